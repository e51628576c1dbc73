"""What a sentence says in words that are on no list: learnt from the paraphrases of many writers.

Law: it says how sure it is, and `inferring` and `stating` decide what is believed. Numbers are one sign,
"#", so that no figure is ever learnt, only which way it bounds; what denies has kinds of its own, because it shares
most words with what it denies. The weights are those of two multinomial logistic regressions over words, pairs of
words, pieces of words and what the lists know of them: one tells what a sentence says, the other, with figures in it,
which way it bounds; the paraphrases, and `python -m tests.bench.recital_learn` which makes the weights of them, are in
tests/bench.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache, lru_cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.review.recital.amounts import amounts
from assistant.review.recital.figures import Amount
from assistant.review.recital.negation import clauses, denied
from assistant.review.recital.wording import concepts_in, stem

FILE = Path(__file__).parent / "learnt.npz"
NUMBER = "#"
MARK = "="  # begins what is no word
DENIED = f"{MARK}denied"
EDGE = "|"
BOUNDS = "bounds."
"""Begins the names of the arrays of the second regression."""
Floats = NDArray[np.float32]
Blocks = tuple[list[str], ...]
_PIECES = (3, 4, 5)
_FAR = 7  # words
_WAYS = (f"{MARK}value", f"{MARK}time", DENIED)


def signs(words: Sequence[str]) -> tuple[str, ...]:
    """The words without commas, each number as one sign; behind them, marked, which way each number bounds, whether a
    clause is denied, and the concepts of the wordings."""
    said = amounts(words)
    plain = _without_figures(words, said)
    marks = [f"{MARK}{'time' if one.measure == 's' else 'value'} {one.way}{' not' * one.denied}" for one in said]
    if any(denied(words, frozenset(), span) for span in clauses(words)):
        marks.append(DENIED)
    return (*plain, *marks, *(f"{MARK}{concept}" for concept in concepts_in(plain)))


def _without_figures(words: Sequence[str], said: Sequence[Amount]) -> tuple[str, ...]:
    found, at = [], 0
    for amount in [*said, None]:
        until = len(words) if amount is None else amount.first
        found += [word for word in words[at:until] if word not in (",", ".")]
        if amount is not None:
            found.append(NUMBER if amount.high is None else f"{NUMBER} {NUMBER}")
            at = amount.end
    return tuple(" ".join(found).split())


def features(signs: Sequence[str]) -> tuple[list[str], list[str]]:
    """Words, stems, pairs of these and marks, and pieces of words, of a sentence that went through `signs`. Where
    something is denied every stem and mark counts as denied, too: what they mean there is another thing."""
    words = [one for one in signs if not one.startswith(MARK)]
    marks = [one for one in signs if one.startswith(MARK)]
    stems = [stem(word) for word in words]
    pairs = [f"{one} {other}" for one, other in pairwise([EDGE, *stems, EDGE])]
    turned = [f"{one}!" for one in (*stems, *marks)] if DENIED in marks else []
    return [*words, *stems, *pairs, *marks, *turned], [piece for word in words for piece in _pieces(f" {word} ")]


def bound_features(signs: Sequence[str]) -> tuple[list[str]]:
    """The same as one block, with every word that comes before another, every way to bound beside every word, and the
    marks two by two: "over" means one thing before "fails" and another before "is fine"."""
    words, pieces = features(signs)
    marks = sorted({one for one in signs if one.startswith(MARK)})
    stems = [stem(word) for word in signs if not word.startswith(MARK)]
    before = [f"{one}~{other}" for at, one in enumerate(stems) for other in stems[at + 1 : at + 1 + _FAR]]
    beside = [f"{way}&{one}" for way in signs if way.startswith(_WAYS) for one in dict.fromkeys(stems)]
    return ([*words, *pieces, *before, *beside, *(f"{one}&{other}" for one, other in combinations(marks, 2))],)


def _pieces(word: str) -> Iterator[str]:
    for length in _PIECES:
        for at in range(max(1, len(word) - length + 1)):
            yield f"_{word[at : at + length]}"


def strengths(block: Sequence[str], places: Mapping[str, int], rarity: Floats) -> tuple[list[int], Floats]:
    """The known features of a block by their `places`, and how strongly each stands in it, as in tf-idf, to a length
    of 1. `rarity`: of each place."""
    counted = Counter(places[name] for name in block if name in places)
    strength = np.array([(1 + np.log(count)) * rarity[place] for place, count in counted.items()], np.float32)
    return list(counted), strength / (np.linalg.norm(strength) or 1.0)


class Learnt:
    """`arrays`, as they stand in the file: `kinds` that can be said ("facts.chocked", "denied.chocked", "limits.loss",
    "talk.all") and `names` of the features, a line each; `rarity` of each feature, `weights` of each feature for each
    kind as whole numbers, `scale` and `bias` of each kind. `blocks`: the features of signs, a list for each length."""

    def __init__(self, arrays: Mapping[str, NDArray[Any]], blocks: Callable[[Sequence[str]], Blocks]) -> None:
        self._blocks = blocks
        self._kinds = str(arrays["kinds"]).split("\n")
        self._places = {name: place for place, name in enumerate(str(arrays["names"]).split("\n"))}
        self._rarity, self._bias = arrays["rarity"].astype(np.float32), arrays["bias"]
        self._weights, self._scale = arrays["weights"], arrays["scale"]

    def knows(self, word: str) -> bool:
        """Whether what was learnt has to do with this word at all."""
        return word in self._places

    def likely(self, words: Sequence[str]) -> Mapping[str, float]:
        """How likely each kind is for this sentence; together 1."""
        score = self._bias.copy()
        for block in self._blocks(signs(words)):
            places, strength = strengths(block, self._places, self._rarity)
            score += (strength @ self._weights[places]) * self._scale
        likely = np.exp(score - score.max())
        return dict(zip(self._kinds, map(float, likely / likely.sum()), strict=True))


@lru_cache(maxsize=4096)  # a recital is marked anew with each of its sentences
def likely(words: tuple[str, ...]) -> Mapping[str, float]:
    """What is shipped: how likely each kind is for this sentence."""
    return learnt().likely(words)


@lru_cache(maxsize=4096)
def bounds_likely(words: tuple[str, ...]) -> Mapping[str, float]:
    """The same of which way a sentence with figures bounds: "limits.min" and so on, the denials, "other" where it
    says something else of them."""
    return _shipped()[1].likely(words)


def learnt() -> Learnt:
    """What is shipped: it tells what a sentence says."""
    return _shipped()[0]


@cache
def _shipped() -> tuple[Learnt, Learnt]:
    """Both, loaded once in a process."""
    with np.load(FILE) as kept:
        bounding = {name.removeprefix(BOUNDS): kept[name] for name in kept.files if name.startswith(BOUNDS)}
        return Learnt(kept, features), Learnt(bounding, bound_features)
