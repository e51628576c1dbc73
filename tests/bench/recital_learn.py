"""Learns what a sentence of a talk-through says: `python -m tests.bench.recital_learn` writes learnt.npz, and the
paraphrases that the ears expect, into assistant/review/recital; with `--without NAME` it writes nothing and prints how
well the paraphrases of that writer are told, learnt from all others.

Needs scikit-learn (extra `learn`). The final half and its writers are never learnt from.
"""

from __future__ import annotations

import argparse
import gzip
import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.core.numbers import spoken, value_of
from assistant.review.recital.learnt import (
    BOUNDS,
    FILE,
    MARK,
    NUMBER,
    Blocks,
    Learnt,
    bound_features,
    features,
    signs,
    strengths,
)
from assistant.review.recital.stating import WAYS
from assistant.review.recital.tokens import words_of_text
from assistant.review.recital.turns import PARAPHRASES
from tests.bench.recital_talks import CORPUS, LEARNT, PARTIAL, corpus

Made = Sequence[tuple[tuple[str, ...], str]]
STRENGTH = 8.0  # of the regression (C); less tells less, more takes more denials for statements (--without)
BOUND_STRENGTH = 20.0
ROUNDS = 150
SEEN = 2  # a feature of one sentence only says nothing
STEPS = 127
SEEDS = (1, 2, 3)  # of the grammar of paraphrases
_TWO = 2  # "one needle", "the two of them" are no readings


def main() -> None:
    """Learn, and write or print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--without", choices=(*LEARNT, *PARTIAL))
    given = parser.parse_args()
    names = [name for name in (*LEARNT, *PARTIAL) if name != given.without]
    made = learn_meaning(names)
    if given.without is None:
        bounding = learn_bounds(names)
        np.savez_compressed(FILE, **made, **{f"{BOUNDS}{name}": array for name, array in bounding.items()})
        PARAPHRASES.write_bytes(gzip.compress("\n".join(expected()).encode(), mtime=0))
        for file in (FILE, PARAPHRASES):
            print(f"{file.name}: {file.stat().st_size / 1000:.0f} kB")
        return
    _judge(Learnt(made, features), list(sentences(given.without)))


def learn_meaning(names: Sequence[str]) -> dict[str, Any]:
    """The arrays of what is learnt from these writers: what a sentence says."""
    return learn([one for name in names for one in sentences(name)], features, STRENGTH)


def learn_bounds(names: Sequence[str]) -> dict[str, Any]:
    """The same: which way one with figures bounds."""
    return learn([one for name in names for one in bounds(name)], bound_features, BOUND_STRENGTH)


def sentences(name: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every paraphrase of a writer as signs, with its kind."""
    for seed in SEEDS if name == "fresh" else (0,):
        for room, lists in corpus(name, seed).items():
            for key, ways in lists.items():
                if room != "manner":
                    yield from ((signs(words_of_text(_filled(way))), f"{room}.{key}") for way in ways)


def bounds(name: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """Those with figures, with the way in which they bound or deny a bound; "other", where they do neither."""
    for words, kind in sentences(name):
        room, _, key = kind.partition(".")
        if any(NUMBER in sign.split() for sign in words if not sign.startswith(MARK)):
            yield words, f"{room}.{WAYS[key]}" if room in ("limits", "denied") and key in WAYS else "other"


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


def learn(made_of: Made, blocks: Callable[[Sequence[str]], Blocks], strength: float) -> dict[str, Any]:
    """The arrays of one regression."""
    from scipy.sparse import hstack
    from sklearn.linear_model import LogisticRegression

    features_of = zip(*(blocks(words) for words, _ in made_of), strict=True)
    names, rarities, parts = zip(*map(_block, features_of), strict=True)
    model = LogisticRegression(C=strength, max_iter=ROUNDS).fit(hstack(parts).tocsr(), [kind for _, kind in made_of])
    weights = model.coef_.T
    scale = np.abs(weights).max(axis=0) / STEPS
    return {
        "kinds": np.array("\n".join(model.classes_)),
        "names": np.array("\n".join(name for part in names for name in part)),
        "rarity": np.concatenate(rarities).astype(np.float16),
        "weights": np.round(weights / scale).astype(np.int8),
        "scale": scale.astype(np.float32),
        "bias": model.intercept_.astype(np.float32),
        "made_of": np.array(fingerprint()),
    }


def _block(sentences: Sequence[Sequence[str]]) -> tuple[list[str], NDArray[np.float64], Any]:
    """The features of this block that are seen often enough, their rarity, and a row of strengths for each sentence."""
    from scipy.sparse import csr_matrix

    seen = Counter(name for one in sentences for name in set(one))
    names = sorted(name for name, count in seen.items() if count >= SEEN)
    rarity = np.array([np.log((1 + len(sentences)) / (1 + seen[name])) + 1 for name in names])
    places = {name: place for place, name in enumerate(names)}
    rows, columns, values = [], [], []
    for row, one in enumerate(sentences):
        found, strength = strengths(one, places, rarity)
        rows += [row] * len(found)
        columns += found
        values += list(strength)
    return names, rarity, csr_matrix((values, (rows, columns)), shape=(len(sentences), len(names)))


def fingerprint() -> str:
    """Of the paraphrases that are learnt from."""
    files = (CORPUS / f"{name}.toml" for name in (*LEARNT, *PARTIAL))
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()


def _judge(made: Learnt, known: Made) -> None:
    rooms: Counter[str] = Counter()
    right: Counter[str] = Counter()
    sure: Counter[bool] = Counter()
    for words, kind in known:
        likely = made.likely(words)
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
