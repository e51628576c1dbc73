"""The speller as it learns (PyTorch), and as arrays for `assistant.ears.spelling`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from assistant.ears.spelling import LETTERS, Real

WIDTH, CHANNELS = 288, 208  # of the encoder; of the layers here
SPREAD = (1, 1, 2, 2, 4, 1)
"""How far apart the three steps of each layer are: in all a letter comes from 27 steps, 0.7 s of sound."""
DROPPED, UNHEARD = 0.15, 0.1  # of the layers, of the channels of the encoder
BATCH, RATE, PUSH = 32, 3e-3, 0.15  # utterances; the highest rate of learning, reached after this part of the steps


class Lesson(NamedTuple):
    """One utterance: who says it, what, and what the encoder makes of it: (steps, WIDTH)."""

    voice: str
    text: str
    heard: Real


class Network(nn.Module):
    """What was heard (utterances, WIDTH, steps) to log probabilities (utterances, outputs, steps)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Conv1d(WIDTH, CHANNELS, 5, padding=2, bias=False)
        self.blocks = nn.ModuleList(
            nn.Conv1d(CHANNELS, CHANNELS, 3, padding=step, dilation=step, bias=False) for step in SPREAD
        )
        self.norms = nn.ModuleList(nn.BatchNorm1d(CHANNELS) for _ in range(1 + len(SPREAD)))
        self.out = nn.Conv1d(CHANNELS, len(LETTERS) + 1, 1)

    def forward(self, heard: torch.Tensor) -> torch.Tensor:
        first, *norms = self.norms
        here = functional.relu(first(self.stem(heard)))
        for block, norm in zip(self.blocks, norms, strict=True):
            here = here + functional.dropout(functional.relu(norm(block(here))), DROPPED, self.training)
        told: torch.Tensor = self.out(here).log_softmax(1)
        return told

    def arrays(self) -> dict[str, NDArray[np.float16]]:
        """What `Speller` takes: each layer with its norm in it."""
        layers = {"stem": self.stem} | {f"block{number}": block for number, block in enumerate(self.blocks)}
        made = {"spread": np.array(SPREAD), "out.w": _array(self.out.weight[:, :, 0].T), "out.b": _array(self.out.bias)}
        for (name, layer), norm in zip(layers.items(), self.norms, strict=True):
            scale = norm.weight / torch.sqrt(norm.running_var + norm.eps)
            weight = layer.weight * scale[:, None, None]  # (outputs, inputs, steps)
            made[f"{name}.w"] = _array(weight.permute(2, 1, 0).reshape(-1, CHANNELS))
            made[f"{name}.b"] = _array(norm.bias - norm.running_mean * scale)
        return made


def _array(tensor: torch.Tensor) -> NDArray[np.float16]:
    return tensor.detach().numpy().astype(np.float16)


def learn(network: Network, lessons: list[Lesson], rounds: int, rng: np.random.Generator) -> None:
    """Go through all lessons `rounds` times; prints the loss of each round."""
    lessons = [one for one in lessons if _can_be_written(one)]
    steps = rounds * -(-len(lessons) // BATCH)
    descent = torch.optim.AdamW(network.parameters(), weight_decay=1e-2)
    pace = torch.optim.lr_scheduler.OneCycleLR(descent, RATE, total_steps=steps + 1, pct_start=PUSH)
    network.train()
    for number in range(rounds):
        losses = []
        for batch in _batches(lessons, rng):
            loss = _loss(network, batch, rng)
            descent.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(network.parameters(), 1.0)
            descent.step()
            pace.step()
            losses.append(loss.item())
        print(f"round {number + 1}: loss {np.mean(losses):.3f}", flush=True)
    network.eval()


def _can_be_written(lesson: Lesson) -> bool:
    """In its time: between two like letters there has to be none."""
    doubled = sum(one == other for one, other in zip(lesson.text, lesson.text[1:], strict=False))
    return len(lesson.text) + doubled <= len(lesson.heard)


def _batches(lessons: list[Lesson], rng: np.random.Generator) -> list[list[Lesson]]:
    """Of about the same length each, in any order."""
    order = np.argsort([len(one.heard) + rng.uniform(0, 20) for one in lessons])
    groups = [order[at : at + BATCH] for at in range(0, len(order), BATCH)]
    rng.shuffle(groups)
    return [[lessons[place] for place in group] for group in groups]


def _loss(network: Network, batch: list[Lesson], rng: np.random.Generator) -> torch.Tensor:
    longest = max(len(one.heard) for one in batch)
    heard = np.zeros((len(batch), WIDTH, longest), np.float32)
    for row, one in zip(heard, batch, strict=True):
        row[:, : len(one.heard)] = _spoilt(one.heard.astype(np.float32), rng).T
    letters = [[LETTERS.index(letter) + 1 for letter in one.text] for one in batch]
    with torch.autocast("cpu", torch.bfloat16):
        told = network(torch.from_numpy(heard))
    return functional.ctc_loss(
        told.float().permute(2, 0, 1),
        torch.tensor([letter for one in letters for letter in one]),
        torch.tensor([len(one.heard) for one in batch]),
        torch.tensor([len(one) for one in letters]),
        zero_infinity=True,
    )


def _spoilt(heard: Real, rng: np.random.Generator) -> Real:
    """With channels missing and, half of the time, a piece (Park et al. 2019, SpecAugment)."""
    if rng.random() < 0.5:
        length = int(rng.integers(0, 5))
        first = int(rng.integers(0, max(1, len(heard) - length)))
        heard[first : first + length] = 0
    return heard * ((rng.random(WIDTH) > UNHEARD) / (1 - UNHEARD)).astype(np.float32)
