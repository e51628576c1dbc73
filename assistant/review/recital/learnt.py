"""What a sentence says in words that are on no list: learnt from the paraphrases of many writers.

Law: it only helps out where the lists of wordings.toml find nothing, and says how sure it is. Numbers are one sign,
"#", so that no figure is ever learnt; what denies has kinds of its own, because it shares most words with what it
denies. The weights are those of a multinomial logistic regression over words, pairs of words and pieces of words; the
paraphrases, and `python -m tests.bench.recital_learn` which makes the weights of them, are in tests/bench.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.review.recital.amounts import amounts

FILE = Path(__file__).parent / "learnt.npz"
NUMBER = "#"
_PIECES = (3, 4, 5)


def signs(words: Sequence[str]) -> tuple[str, ...]:
    """The words without commas, each number as one sign."""
    found, at = [], 0
    for amount in [*amounts(words), None]:
        until = len(words) if amount is None else amount.first
        found += [word for word in words[at:until] if word not in (",", ".")]
        if amount is not None:
            found.append(NUMBER if amount.high is None else f"{NUMBER} {NUMBER}")
            at = amount.end
    return tuple(" ".join(found).split())


def features(words: Sequence[str]) -> tuple[list[str], list[str]]:
    """Words with pairs of them, and pieces of words, of a sentence that went through `signs`."""
    pairs = [f"{one} {other}" for one, other in pairwise(words)]
    return [*words, *pairs], [piece for word in words for piece in _pieces(f" {word} ")]


def _pieces(word: str) -> Iterator[str]:
    for length in _PIECES:
        for at in range(max(1, len(word) - length + 1)):
            yield f"_{word[at : at + length]}"


class Learnt:
    """`kinds`: what can be said ("facts.chocked", "denied.chocked", "limits.loss", "talk.all"). `weights`: of each
    feature for each kind. `rarity`: of each feature, as in tf-idf."""

    def __init__(
        self,
        kinds: Sequence[str],
        names: Sequence[str],
        rarity: NDArray[np.float32],
        weights: NDArray[np.float32],
        bias: NDArray[np.float32],
    ) -> None:
        self.kinds = tuple(kinds)
        self._places = {name: place for place, name in enumerate(names)}
        self._rarity, self._weights, self._bias = rarity, weights, bias

    def likely(self, words: Sequence[str]) -> Mapping[str, float]:
        """How likely each kind is for this sentence; together 1."""
        score = self._bias.copy()
        for block in features(signs(words)):
            counted = Counter(self._places[name] for name in block if name in self._places)
            if counted:
                places = np.fromiter(counted, int)
                strength = (1 + np.log(np.fromiter(counted.values(), float))) * self._rarity[places]
                score += (strength / np.linalg.norm(strength)) @ self._weights[places]
        likely = np.exp(score - score.max())
        return dict(zip(self.kinds, map(float, likely / likely.sum()), strict=True))


@lru_cache(maxsize=4096)  # a recital is marked anew with each of its sentences
def likely(words: tuple[str, ...]) -> Mapping[str, float]:
    """`Learnt.likely` of what is shipped."""
    return learnt().likely(words)


@cache
def learnt() -> Learnt:
    """What is shipped, loaded once in a process."""
    with np.load(FILE) as kept:
        weights = kept["weights"].astype(np.float32) * kept["scale"]
        names = str(kept["names"]).split("\n")
        kinds = str(kept["kinds"]).split("\n")
        return Learnt(kinds, names, kept["rarity"].astype(np.float32), weights, kept["bias"])
