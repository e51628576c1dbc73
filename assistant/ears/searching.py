"""The likeliest texts by the letters that the speller has written.

Law: only whole texts are found that the `ways` allow. The search goes from letter to letter and keeps the few likeliest
beginnings (prefix search for connectionist temporal classification, Graves 2008).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple, Protocol

import numpy as np

from assistant.core.language import Stand
from assistant.ears.spelling import LETTERS, Real

_LEAST = 1e-4
"""A letter that is less likely than this in a step is not looked at."""
_REMEMBERED = 20
"""The ways of so many beginnings for each that is kept: of those of one utterance nearly all. 2 000 take 4 MB."""

_KNOWN = 500  # beginnings in words of which it is kept how they go on

NextWords = Callable[[Sequence[str]], frozenset[str]]


class Ways(Protocol):
    """What may be found."""

    def letters(self, beginning: str) -> Mapping[str, float]:
        """The letters that a beginning may go on by, and how likely it is to."""

    def end(self, text: str) -> float:
        """How likely it is to end here; 0: it can't."""


class LanguageWays:
    """The sentences of the language with these `next_words` and this `stand`, both of a word sequence; each is as
    likely as any other."""

    def __init__(self, next_words: NextWords, stand: Callable[[Sequence[str]], Stand]) -> None:
        self._next_words = lru_cache(_KNOWN)(next_words)
        self._stand = stand

    def letters(self, beginning: str) -> Mapping[str, float]:
        """A beginning may only go on by a letter that some word of the language, in its place, goes on with."""
        *before, begun = beginning.split(" ")
        ways = self._next_words(tuple(before))
        letters = {word[len(begun)] for word in ways if word.startswith(begun) and word != begun}
        ends = {" "} if begun in ways and self._next_words((*before, begun)) else set()
        return dict.fromkeys(letters | ends, 1.0)

    def end(self, text: str) -> float:
        """A sentence has to be whole."""
        return float(self._stand(text.split()).complete and not text.endswith(" "))


class _Odds(NamedTuple):
    """How likely a beginning is, by whether its last letter has been left again."""

    left: float
    held: float


class Search:
    """For what the `ways` allow. `kept`: beginnings after each step."""

    def __init__(self, ways: Ways, kept: int) -> None:
        self._end, self._kept = ways.end, kept
        self._letters = lru_cache(_REMEMBERED * kept)(ways.letters)

    def texts(self, told: Real, most: int) -> list[str]:
        """The likeliest ones, best first. `told`: (steps, outputs), log probabilities."""
        odds = {"": _Odds(1.0, 0.0)}
        for step in np.exp(told):
            odds = self._after(step, odds)
        whole = {text: likely * sum(odds[text]) for text in odds if (likely := self._end(text))}
        return sorted(whole, key=lambda text: -whole[text])[:most]

    def _after(self, step: Real, odds: dict[str, _Odds]) -> dict[str, _Odds]:
        none = float(step[0])
        likely = {LETTERS[place - 1]: float(step[place]) for place in np.flatnonzero(step > _LEAST) if place}
        left: dict[str, float] = {}
        held: dict[str, float] = {}
        for text, (was_left, was_held) in odds.items():
            either = was_left + was_held
            left[text] = either * none
            if text and text[-1] in likely:
                held[text] = held.get(text, 0.0) + was_held * likely[text[-1]]
            ways = self._letters(text) if likely else {}
            for letter in ways.keys() & likely.keys():
                before = was_left if text.endswith(letter) else either
                held[text + letter] = held.get(text + letter, 0.0) + before * likely[letter] * ways[letter]
        made = {text: _Odds(left.get(text, 0.0), held.get(text, 0.0)) for text in left.keys() | held.keys()}
        best = sorted(made, key=lambda text: -sum(made[text]))[: self._kept]
        whole = sum(sum(made[text]) for text in best) or 1.0  # else they would vanish
        return {text: _Odds(made[text].left / whole, made[text].held / whole) for text in best}
