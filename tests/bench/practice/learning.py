"""How the network learns: to write what was said, and to hear in noise what it heard without."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import torch
from torch import nn
from torch.nn import functional

from assistant.ears.decoding import Samples
from assistant.ears.spelling import LETTERS
from tests.bench.practice.encoder import Encoder
from tests.bench.practice.network import Network

BATCH = 32  # utterances
RATE, OLD_RATE = 2e-3, 2e-4
"""The highest rates of learning: of the speller; of the encoder, which knows English already."""
PUSH = 300  # steps, to the highest rate
LIKENESS = 0.3
"""What it counts that the encoder hears the treated sound unlike the published one heard the clean sound (after Hsu
et al. 2021, robust wav2vec 2.0): it keeps what it knows of voices that are not among the teachers."""
_HALVED = bool(torch.cpu.get_capabilities().get("avx512_bf16"))
"""Whether the machine reckons with numbers of 16 bits; where it would only play at it, that takes twenty times as
long."""
_FLOOR = 3.0  # of 32768: the noise that fills a shorter utterance up


class Lesson(NamedTuple):
    """One utterance: who says it, what, as the second opinion gets it, and the same without noise. No text, no
    speech."""

    voice: str
    text: str
    treated: Samples
    clean: Samples


def learn(
    network: Network, before: Encoder, lessons: Sequence[Lesson], rounds: int, rng: np.random.Generator, haste: float
) -> None:
    """Go through all lessons `rounds` times; prints the loss now and then. `before`: the encoder as it was published;
    `haste`: the part of the rates of learning."""
    lessons = [one for one in lessons if can_be_written(one.text, len(one.treated))]
    course = _Course(network, before, lessons, rng)
    total = rounds * -(-len(lessons) // BATCH)
    groups = [{"params": network.speller.parameters()}, {"params": network.encoder.parameters()}]
    descent = torch.optim.AdamW(groups, lr=RATE, weight_decay=1e-2)
    network.train()
    done, losses = 0, []
    for _ in range(rounds):
        for batch in _batches(lessons, rng):
            pace = haste * min(1.0, done / PUSH) * (1 - done / total)
            for group, rate in zip(descent.param_groups, (RATE, OLD_RATE), strict=True):
                group["lr"] = rate * pace
            written, unlike = course.losses(batch)
            descent.zero_grad()
            (written + LIKENESS * unlike).backward()  # type: ignore[no-untyped-call]
            done += 1
            if not torch.isfinite(nn.utils.clip_grad_norm_(network.parameters(), 1.0)):
                print("skipped:", [(lessons[place].text, len(lessons[place].treated)) for place in batch])
                continue
            descent.step()
            losses.append((written.item(), unlike.item()))
            if done % 100 == 0 or done == total:
                spelling, likeness = np.mean(losses[-100:], axis=0)
                print(f"{done} of {total}: letters {spelling:.3f}, unlike {likeness:.3f}", flush=True)
    network.eval()


class _Course:
    """`before`: the encoder as it was, and what it makes of the clean sound of each lesson."""

    def __init__(self, network: Network, before: Encoder, lessons: Sequence[Lesson], rng: np.random.Generator) -> None:
        self._network, self._lessons, self._rng = network, lessons, rng
        self._before = before.eval()
        self._known: dict[int, torch.Tensor] = {}

    def losses(self, batch: Sequence[int]) -> tuple[torch.Tensor, torch.Tensor]:
        """How badly it writes, and how unlike the clean sound it hears."""
        lessons = [self._lessons[place] for place in batch]
        sizes = [steps(len(one.treated)) for one in lessons]
        self._learn_clean(batch)
        with torch.autocast("cpu", torch.bfloat16, enabled=_HALVED):
            heard, told = self._network.heard_and_told(self._together([one.treated for one in lessons]))
        letters = [[LETTERS.index(letter) + 1 for letter in one.text] for one in lessons]
        written = functional.ctc_loss(
            told.float().transpose(0, 1),
            torch.tensor([letter for one in letters for letter in one], dtype=torch.long),
            torch.tensor(sizes),
            torch.tensor([len(one) for one in letters]),
            zero_infinity=True,
        )
        spoken = [row for row, one in enumerate(lessons) if one.text]
        ours = torch.cat([heard[row, : sizes[row]] for row in spoken])
        theirs = torch.cat([self._known[batch[row]] for row in spoken]).float()
        return written, ((ours - theirs) ** 2).mean() / (theirs**2).mean()

    def _learn_clean(self, batch: Sequence[int]) -> None:
        new = [place for place in batch if place not in self._known]
        if not new:
            return
        with torch.no_grad(), torch.autocast("cpu", torch.bfloat16, enabled=_HALVED):
            heard = self._before(self._together([self._lessons[place].clean for place in new]))
        for row, place in zip(heard, new, strict=True):
            self._known[place] = row[: steps(len(self._lessons[place].clean))].to(torch.float16)

    def _together(self, sounds: Sequence[Samples]) -> torch.Tensor:
        longest = max(map(len, sounds))
        filled = self._rng.normal(0, _FLOOR, (len(sounds), longest)).astype(np.float32)
        for row, sound in zip(filled, sounds, strict=True):
            row[: len(sound)] = sound
        return torch.from_numpy(filled / 32768)


def steps(samples: int) -> int:
    """How many steps the encoder makes of so much sound."""
    for width, step in ((127, 64), (7, 3), (3, 2)):
        samples = (samples - width) // step + 1
    return samples


def can_be_written(text: str, samples: int) -> bool:
    """In its time: between two like letters there has to be none."""
    doubled = sum(one == other for one, other in itertools.pairwise(text))
    return 0 < len(text) + doubled + 1 <= steps(samples)


def _batches(lessons: Sequence[Lesson], rng: np.random.Generator) -> list[list[int]]:
    """Places of lessons of about the same length each, in any order."""
    order = np.argsort([len(one.treated) + rng.uniform(0, 2_500) for one in lessons])
    groups = [order[at : at + BATCH].tolist() for at in range(0, len(order), BATCH)]
    rng.shuffle(groups)
    return groups
