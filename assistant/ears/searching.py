"""The likeliest sentences of the language, by the letters that the speller has written.

Law: only whole sentences of the language are found. The search goes from letter to letter and keeps the few likeliest
beginnings (prefix search for connectionist temporal classification, Graves 2008); a beginning may only go on by a
letter that some word of the language, in its place, goes on with.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from assistant.core.language import Stand
from assistant.ears.spelling import LETTERS, Real

KEPT = 24
"""Beginnings after each step."""
_LEAST = 1e-4
"""A letter that is less likely than this in a step is not looked at."""
_BEGINNINGS = 500  # of those of one utterance nearly all; with 2 000 they take 3 MB more

NextWords = Callable[[Sequence[str]], frozenset[str]]


class _Odds(NamedTuple):
    """How likely a beginning is, by whether its last letter has been left again."""

    left: float
    held: float


class Search:
    """In the language with these `next_words` and this `stand`, both of a word sequence."""

    def __init__(self, next_words: NextWords, stand: Callable[[Sequence[str]], Stand]) -> None:
        self._stand = stand
        self._next_words = lru_cache(_BEGINNINGS)(next_words)
        self._letters = lru_cache(_BEGINNINGS)(self._letters_after)

    def sentences(self, told: Real, most: int) -> list[str]:
        """The likeliest ones, best first. `told`: (steps, outputs), log probabilities."""
        odds = {"": _Odds(1.0, 0.0)}
        for step in np.exp(told):
            odds = self._after(step, odds)
        found = (text for text in _best_first(odds) if self._stand(text.split()).complete and not text.endswith(" "))
        return [text for _, text in zip(range(most), found, strict=False)]

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
            for letter in self._letters(text) & likely.keys():
                before = was_left if text.endswith(letter) else either
                held[text + letter] = held.get(text + letter, 0.0) + before * likely[letter]
        made = {text: _Odds(left.get(text, 0.0), held.get(text, 0.0)) for text in left.keys() | held.keys()}
        best = _best_first(made)[:KEPT]
        whole = sum(sum(made[text]) for text in best) or 1.0  # else they would vanish
        return {text: _Odds(made[text].left / whole, made[text].held / whole) for text in best}

    def _letters_after(self, text: str) -> frozenset[str]:
        *before, begun = text.split(" ")
        ways = self._next_words(tuple(before))
        ends = {" "} if begun in ways and self._next_words((*before, begun)) else set()
        return frozenset({word[len(begun)] for word in ways if word.startswith(begun) and word != begun} | ends)


def _best_first(odds: dict[str, _Odds]) -> list[str]:
    return sorted(odds, key=lambda text: -sum(odds[text]))
