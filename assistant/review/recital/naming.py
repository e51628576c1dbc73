"""Which tests a sentence names, where words could name several.

Law: what the lists find is named, unless it was learnt that surely another test, or none, is meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.core.events import TestId
from assistant.review.recital.learnt import likely
from assistant.review.recital.negation import declines
from assistant.review.recital.wording import Found

_OTHER_NAME, _ITS_NAME, _STATED, _NO_NAME = 0.6, 0.75, 0.8, 0.25
"""How likely another test, one that is told by what is not, or a fact has to be, and how unlikely what the lists found,
for it to be meant. Chosen on writers that were not learnt from."""
_HARDLY = 0.05
"""How unlikely one of several tests that are named has to be, or what is named in what surely is talk."""
_NAMELESS = ("talk", "actions", "denied")  # what names no test, where it is surely meant
_BRIEF = 10  # a longer sentence may say two things
_TESTING = {"test", "check", "inspection"}
_LEAKS: tuple[TestId, TestId] = ("static-leakage", "applied-leakage")


@dataclass(frozen=True)
class Mention:
    """A test is named by the words at `places`."""

    test: TestId
    places: frozenset[int]
    denied: bool

    @property
    def at(self) -> int:
        return min(self.places)


def told_apart(named: Sequence[Mention]) -> list[Mention]:
    """One mention where two of the leakage tests, or two readings of the same words, overlap: the closest words win,
    but the longer name where it has all words of the other: "the red one kicks out" is no cut-out of the governor."""
    kept: list[Mention] = []
    named = [one for one in named if not any(one.places < other.places for other in named)]
    for one in sorted(named, key=lambda mention: (_width(mention), -len(mention.places))):
        rivals = [other for other in kept if other.places & one.places]
        same = any(other.test == one.test for other in rivals)
        leaks = any({other.test, one.test} == set(_LEAKS) for other in rivals)
        if not same and not leaks:
            kept.append(one)
    return kept


def _width(mention: Mention) -> int:
    return max(mention.places) - min(mention.places)


def settled(
    named: Sequence[Mention], words: tuple[str, ...], tests: Sequence[TestId], found: Found, *, figures: bool
) -> Sequence[Mention]:
    """What is named, but for a test that was learnt to be surely another one, or none: "the spring brakes come on by
    themselves" names no hold of the parking brake, and "the truck is shut off" no governor. What only tells a test by
    what is not ("the leak test without my foot") is no denial of one. `tests`: those that can be named; `found`: the
    concepts of the sentence; `figures`: it has some."""
    if not named or declines(words):
        return named
    known = likely(words)
    best = max(known, key=known.__getitem__)
    room, _, test = best.partition(".")
    listed = max(known.get(f"names.{one.test}", 0.0) for one in named)
    if room == "names" and test in tests:
        other = known[best] >= _OTHER_NAME and listed <= _NO_NAME
        if other or (known[best] >= _ITS_NAME and all(one.denied for one in named)):
            return [Mention(one, frozenset(range(len(words))), False) for one in tests if one == test]
        if known[best] >= _OTHER_NAME and len(words) <= _BRIEF:
            named = [one for one in named if one.test == test or known.get(f"names.{one.test}", 0.0) > _HARDLY]
    if found.get("opener") or _TESTING & set(words) or len(words) > _BRIEF or known[best] < _STATED:
        return named
    if room == "facts" and listed <= _NO_NAME and not figures:
        return []
    return [one for one in named if not (room in _NAMELESS and listed <= _HARDLY) or _by_itself(one, words)]


def _by_itself(one: Mention, words: tuple[str, ...]) -> bool:
    """Whether the words that name the test would name it without the others: "hand valve, i pull it while rolling"."""
    return likely(words[one.at : max(one.places) + 1])[f"names.{one.test}"] >= _NO_NAME
