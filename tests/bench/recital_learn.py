"""Teaches what a sentence of a talk-through says: `python -m tests.bench.recital_learn` writes learnt.npz, and the
paraphrases that the ears expect, into assistant/review/recital.

With `--without NAME ...` the paraphrases of these writers are left out, and how many of them are told is printed; with
`--out FILE` the network is written there and nothing else is (`tests.bench.recital --learnt FILE` marks with it);
`--go-on` begins with what is shipped instead of what was published, at a part of the rate, and `--writing` only writes
the paraphrases. The final half and its writers are never learnt from. Needs torch and the published weights (extra
`learn`) and some seventy minutes on two cores.
"""

from __future__ import annotations

import argparse
import gzip
import hashlib
import re
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from assistant.core.numbers import spoken, value_of
from assistant.review.recital.learnt import ABOUT, FILE, UNKNOWN, Learnt, Pieces, about_sign, encoded, own_signs
from assistant.review.recital.tokens import words_of_text
from assistant.review.recital.turns import PARAPHRASES
from tests.bench.recital_writers import CORPUS, LEARNT, PARTIAL, corpus

Said = tuple[tuple[str, ...], str]
"""A sentence in words, and its kind."""
Rows = list[tuple[list[int], int, tuple[int, ...]]]
"""Pieces, the number of the kind, and the pieces of what it may be said about as well."""
Batch = list[tuple[list[int], int]]
ROUNDS, AT_ONCE = 4.0, 64
RATE, RATE_OF_NEW = 1.5e-4, 1.2e-3  # for what was published, and for what is ours
GENTLY = 0.33  # of the rates, where it goes on with what was taught before
WARMING_UP = 0.06  # of all steps
SMOOTHED = 0.05  # so much of the truth goes to all kinds alike
HIDDEN = 0.04  # of the pieces, so that no single word decides
UNPLACED = 0.4  # of the sentences that may be said about several things, each time they are seen
SEEDS = (1, 2, 3)  # of the grammar of paraphrases
_TURNED = {"limits.at-least": "at-most", "limits.at-most": "at-least"}
_READ_AT = ("within", "at-least", "at-most")  # readings of one value belong to limits of these kinds
_NOWHERE = 4  # one rule in so many is also said about nothing
_TWO = 2  # "one needle", "the two of them" are no readings


def main() -> None:
    """Teach, and write or print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--without", nargs="+", choices=(*LEARNT, *PARTIAL), default=())
    parser.add_argument("--out", type=Path)
    parser.add_argument("--go-on", action="store_true")
    parser.add_argument("--rounds", type=float, default=ROUNDS)
    parser.add_argument("--writing", action="store_true")
    given = parser.parse_args()
    if not given.writing:
        names = [name for name in (*LEARNT, *PARTIAL) if name not in given.without]
        made = teach(list(dict.fromkeys(one for name in names for one in sentences(name))), given.rounds, given.go_on)
        if given.without:
            _judge(Learnt(made), [one for name in given.without for one in sentences(name)])
        if given.out or not given.without:
            np.savez_compressed(given.out or FILE, **made)
    if given.writing or not (given.out or given.without):
        PARAPHRASES.write_bytes(gzip.compress("\n".join(expected()).encode(), mtime=0))


def sentences(name: str) -> Iterator[Said]:
    """Every paraphrase of a writer, with its kind."""
    for seed in SEEDS if name == "fresh" else (0,):
        for room, lists in corpus(name, seed).items():
            for key, ways in lists.items():
                if room != "manner":
                    yield from ((words_of_text(_filled(way)), f"{room}.{key}") for way in ways)


def expected() -> list[str]:
    """The paraphrases as the ears are to expect them, each once, {n} for every figure. Without those that hold a figure
    of their own: no number may be likelier than another."""
    lists = (some for name in (*LEARNT, *PARTIAL) for rooms in corpus(name).values() for some in rooms.values())
    slotted = (_slotted(way) for ways in lists for way in ways)
    return sorted({" ".join(words) for words in slotted if words and not any(map(_is_figure, words))})


def _slotted(way: str) -> list[str]:
    return re.findall(r"\{n\}|[a-z']+", re.sub(r"\{(low|high|seconds|m)\}", "{n}", way.replace("{it}", "it")).lower())


def _is_figure(word: str) -> bool:
    return (value_of((word,)) or 0) > _TWO


def _filled(way: str) -> str:
    figures = {"low": 55, "high": 75, "seconds": 45, "n": 61, "m": 58}
    return way.format(it="it", **{key: spoken(value) for key, value in figures.items()})


def teach(said: Sequence[Said], rounds: float, go_on: bool) -> dict[str, Any]:
    """The arrays of a network that was taught with these sentences."""
    from tests.bench import recital_network  # imports torch

    words = sorted({word for one, _ in said for word in one})
    if go_on:
        with np.load(FILE) as kept:
            network = recital_network.shipped(kept)
    else:
        network = recital_network.published(words, sorted({kind for _, kind in said}))
    pieces, numbers = Pieces(network.pieces), {kind: number for number, kind in enumerate(network.kinds)}
    told = {
        (encoded(one, at), numbers[meant], besides) for one, kind in said for at, meant, besides in _about(one, kind)
    }
    signs = {kind: network.pieces.index(about_sign(kind)) for kind in ABOUT}
    rows = [(pieces.of(one), number, tuple(map(signs.__getitem__, besides))) for one, number, besides in sorted(told)]
    _go_through(network, rows, rounds, GENTLY if go_on else 1.0)
    made = recital_network.arrays(network)
    return {**made, "words": np.array("\n".join(words)), "made_of": np.array(fingerprint())}


def _about(words: Sequence[str], kind: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """What a sentence may be said about, its kind then, and what else it may be said about. A rule and its denial
    belong to their own kind of limit, and a lower bound is the opposite of an upper one; a reading is told of a test
    that has such readings, or "it stands like a wall" would be a rule there."""
    room, _, key = kind.partition(".")
    if room == "readings":
        yield "", kind, (key,) if key in ABOUT else _READ_AT
        return
    if room not in ("limits", "denied") or key not in ABOUT:
        yield "", kind, ABOUT
        return
    yield key, kind, ()
    if int(hashlib.sha256(" ".join(words).encode()).hexdigest(), 16) % _NOWHERE == 0:  # always the same ones
        yield "", kind, ()
    if kind in _TURNED:
        yield _TURNED[kind], f"denied.{_TURNED[kind]}", ()


def _go_through(network: Any, rows: Rows, rounds: float, share: float) -> None:
    """`share`: of the rates."""
    import torch
    from torch.nn import functional, utils

    torch.manual_seed(1)
    rng = np.random.default_rng(1)
    steps = int(rounds * len(rows) / AT_ONCE)
    new = [*network.kind.parameters(), network.signs]
    known = [one for one in network.parameters() if one.requires_grad and not any(one is other for other in new)]
    groups = [{"params": known, "lr": share * RATE}, {"params": new, "lr": share * RATE_OF_NEW}]
    optimiser = torch.optim.AdamW(groups, weight_decay=0.01)
    schedule = torch.optim.lr_scheduler.LambdaLR(optimiser, lambda step: _slope(step, steps))
    hidden, first = network.pieces.index(UNKNOWN), network.pieces.index(own_signs()[-1]) + 1
    began, mean = time.monotonic(), 0.0
    for step, batch in zip(range(steps), _batches(rows, rng), strict=False):
        longest = max(len(pieces) for pieces, _ in batch)
        given = torch.tensor([pieces + [0] * (longest - len(pieces)) for pieces, _ in batch])
        given = given.masked_fill((torch.rand(given.shape) < HIDDEN) & (given >= first), hidden)
        loss = functional.cross_entropy(
            network(given), torch.tensor([kind for _, kind in batch]), label_smoothing=SMOOTHED
        )
        optimiser.zero_grad()
        loss.backward()
        utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        schedule.step()
        mean += (loss.item() - mean) / min(step + 1, 100)
        if step % 100 == 0:
            print(f"step {step} of {steps}, loss {mean:.3f}, {time.monotonic() - began:.0f} s", flush=True)
    network.eval()


def _slope(step: int, steps: int) -> float:
    """The share of the rate in this step."""
    return min((step + 1) / (WARMING_UP * steps), 1.0) * (steps - step) / steps


def _batches(rows: Rows, rng: np.random.Generator) -> Iterator[Batch]:
    """For ever; those of about the same length together."""
    many = 40 * AT_ONCE
    while True:
        mixed = [_placed(*rows[place], rng) for place in rng.permutation(len(rows))]
        parts = (sorted(mixed[at : at + many], key=lambda one: len(one[0])) for at in range(0, len(mixed), many))
        batches = [part[at : at + AT_ONCE] for part in parts for at in range(0, len(part), AT_ONCE)]
        yield from (batches[place] for place in rng.permutation(len(batches)))


def _placed(pieces: list[int], kind: int, about: Sequence[int], rng: np.random.Generator) -> tuple[list[int], int]:
    if not about or rng.random() < UNPLACED:
        return pieces, kind
    return [pieces[0], int(rng.choice(about)), *pieces[1:]], kind


def fingerprint() -> str:
    """Of the paraphrases that are learnt from."""
    files = (CORPUS / f"{name}.toml" for name in (*LEARNT, *PARTIAL))
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()


def _judge(made: Learnt, known: Sequence[Said]) -> None:
    rooms: Counter[str] = Counter()
    right: Counter[str] = Counter()
    sure: Counter[bool] = Counter()
    for words, kind in known:
        likely = made.likely(words, next(_about(words, kind))[0])
        best = max(likely, key=likely.__getitem__)
        rooms[kind.split(".")[0]] += 1
        right[kind.split(".")[0]] += best == kind
        if likely[best] > 0.5:
            sure[best == kind] += 1
    print(f"{right.total()} of {rooms.total()} told; of {sure.total()} told surely {sure[True]} right")
    for room, count in rooms.items():
        print(f"  {room:12} {right[room]} of {count}")


if __name__ == "__main__":
    main()
