"""What free talk may hold, for the search in the letters: any words of the free decode's grammar, each as likely as it
is expected to follow those before it.

Law: the words and how likely they are come from `following` alone. A word that the model lacks is written as it is, and
costs what the words cost that stand for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from math import exp, inf

from assistant.ears.expected import START
from assistant.ears.following import Following
from assistant.ears.spelling import LETTERS, written

WEIGHT = 1.5
"""Of what is expected beside the letters. From 1 to 2 it makes little difference."""
_REACHED = 4_000  # beginnings whose history is kept; those of a long sentence
_UNIT = "p s i"  # its letters are written as one word


class ExpectedWays:
    """`stand_ins`: words that the model lacks, and how it spells them."""

    def __init__(self, following: Following, stand_ins: Mapping[str, Sequence[str]]) -> None:
        self._following = following
        self._words = dict(_words(following, stand_ins))
        self._reached = lru_cache(_REACHED)(self._reach)
        self._likeliest: dict[str, float] = {}
        for word, (first, *_) in self._words.items():
            likely = exp(-WEIGHT * following.alone[first])
            for end in range(1, len(word) + 1):
                self._likeliest[word[:end]] = max(likely, self._likeliest.get(word[:end], 0.0))

    def letters(self, beginning: str) -> Mapping[str, float]:
        """Inside a word a letter is as likely as the likeliest word that it leads to; what stands before that counts
        where the word ends."""
        begun = beginning.rpartition(" ")[2]
        here = self._likeliest.get(begun, 1.0)
        ways = {letter: self._likeliest.get(begun + letter, 0.0) / here for letter in LETTERS[1:]}
        return {letter: likely for letter, likely in (ways | {" ": self.end(beginning)}).items() if likely}

    def end(self, text: str) -> float:
        """Behind any word."""
        before, _, word = text.rpartition(" ")
        if word not in self._words:
            return 0.0
        cost, _ = self._following.after(self._reached(before)[1], self._words[word])
        return exp(-WEIGHT * cost) / self._likeliest[word]

    def cost(self, text: str) -> float:
        """How unlikely a text is, in nats times WEIGHT; infinite where a word is not expected at all."""
        try:
            return WEIGHT * self._reached(written(text))[0]
        except KeyError:
            return inf

    def _reach(self, text: str) -> tuple[float, int]:
        """What whole words cost, and the state behind them. Raises KeyError."""
        if not text:
            return 0.0, START
        before, _, word = text.rpartition(" ")
        cost, state = self._reached(before)
        more, state = self._following.after(state, self._words[word])
        return cost + more, state


def _words(following: Following, stand_ins: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Each word as it is written, with its numbers in the model. A word that stands for another one is not itself
    meant, one without letters can't be written."""
    instead = {way for ways in stand_ins.values() for way in ways}
    meant = ((written(word), at) for word, at in following.numbers.items() if word not in instead)
    yield from ((letters, (at,)) for letters, at in meant if letters)
    for word, way in ((_UNIT, _UNIT), *((word, way) for word, ways in stand_ins.items() for way in reversed(ways))):
        if following.numbers.keys() >= set(way.split()):
            yield written(word), tuple(following.numbers[part] for part in way.split())
