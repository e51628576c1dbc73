"""Figures in free talk: numbers with what they are of, two that make a range as one.

Law: a number is what core.numbers says it is, or it is no number. Nothing here is fuzzy.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from assistant.core.numbers import NUMBER, value_of

Measure = Literal["psi", "kPa", "s", "speed", "rpm", "plain"]
Way = Literal["min", "max", "range", "at", "late", "early"]

_NO_NUMBER_ALONE = {"", "and", "a", "half"}
NUMBER_WORDS = {word for part in NUMBER for form in part for column in form for word in column} - _NO_NUMBER_ALONE
_LONGEST = 8
_UNITS: dict[str, tuple[Measure, float]] = {
    "pounds": ("psi", 1), "pound": ("psi", 1), "psi": ("psi", 1), "kilopascals": ("kPa", 1), "kilopascal": ("kPa", 1),
    "kilo": ("kPa", 1), "seconds": ("s", 1), "second": ("s", 1), "minute": ("s", 60), "minutes": ("s", 60),
    "miles": ("speed", 1), "mile": ("speed", 1), "mph": ("speed", 1), "kilometers": ("speed", 1),
    "kilometres": ("speed", 1), "revs": ("rpm", 1), "rpm": ("rpm", 1), "hundred": ("plain", 1),
}  # fmt: skip
_PSI = (("p", "s", "i"), ("pounds", "per", "square", "inch"), ("pound", "per", "square", "inch"))
_POINTS = {
    "that", "this", "the", "which", "next", "last", "first", "another", "each", "any", "upper", "lower", "other",
}  # fmt: skip  # "that one" is no number
_BETWEEN_WORDS = {"and", "to", "through", "until", "till", "or"}
_FILLERS = {"pounds", "psi", "p", "s", "i", "up", "pound", "seconds", "kilopascals", "a", "about", "the", "all", "way"}
_SPANS = {"to", "through", "till", "until"}
_OPEN_RANGE = ("between", "from", "range", "limits", "within", "inside", "window", "band", "bracket", "values")
_JOINTS = _BETWEEN_WORDS | _FILLERS
_SOUND_LIKE = {"for": "four", "to": "two", "too": "two"}  # what ears make of a figure; before a unit nothing else is


@dataclass(frozen=True)
class Amount:
    """tokens[first:end]. `way` "at": a bare number; "range": from `value` to `high`; "late": "no later than", which
    bounds what falls from below; "early": "no sooner than", its opposite. `denied`: a negation stands before a range or
    a bare number. `before`: "before it falls to" or "by"."""

    value: float
    high: float | None
    measure: Measure
    way: Way
    first: int
    end: int
    denied: bool = False
    before: bool = False


def figures(words: Sequence[str]) -> list[Amount]:
    """Every number of the clause, as "at" or "range"."""
    found: list[Amount] = []
    for amount in _numbers(_with_figures(words)):
        last = found[-1] if found else None
        if last and last.high is None and _joined(last, amount, words):
            measure = amount.measure if amount.measure != "plain" else last.measure
            found[-1] = replace(last, high=amount.value, way="range", measure=measure, end=amount.end)
        else:
            found.append(amount)
    return found


def _with_figures(words: Sequence[str]) -> list[str]:
    """The words, "for" before a unit of pressure as the figure that it sounds like: "no more than for psi"."""
    return [
        _SOUND_LIKE[word] if word in _SOUND_LIKE and _measure(words, at + 1)[0] in ("psi", "kPa") else word
        for at, word in enumerate(words)
    ]


def _numbers(words: Sequence[str]) -> Iterator[Amount]:
    at = 0
    while at < len(words):
        length = _length(words, at)
        if not length:
            if words[at] in ("a", "one", "full", "whole") and words[at + 1 : at + 2] == ["minute"]:
                yield Amount(60, None, "s", "at", at, at + 2)
            at += 1
            continue
        value = value_of(tuple(words[at : at + length]))
        assert value is not None
        measure, times, end = _measure(words, at + length)
        yield Amount(value * times, None, measure, "at", at, end)
        at = max(end, at + length)


def _length(words: Sequence[str], at: int) -> int:
    if words[at] == "one" and at and words[at - 1] in _POINTS and (at + 1 == len(words) or not _goes_on(words[at + 1])):
        return 0
    if words[at] not in NUMBER_WORDS and words[at : at + 2] != ["a", "hundred"]:
        return 0
    for length in range(min(_LONGEST, len(words) - at), 0, -1):
        if words[at + length - 1] in ("and", "a"):
            continue
        if value_of(tuple(words[at : at + length])) is not None:
            return length
    return 0


def _goes_on(word: str) -> bool:
    """Whether a "one" before this word is a number."""
    return word in NUMBER_WORDS or word in _UNITS


def _measure(words: Sequence[str], at: int) -> tuple[Measure, float, int]:
    for spelled in _PSI:
        if tuple(words[at : at + len(spelled)]) == spelled:
            return "psi", 1, at + len(spelled)
    word = words[at] if at < len(words) else ""
    if word in ("full", "whole", "kilo") and at + 1 < len(words) and words[at + 1] in ("minute", "pascals", "pascal"):
        return ("s", 60, at + 2) if words[at + 1] == "minute" else ("kPa", 1, at + 2)
    if word in _UNITS and word != "hundred":
        return *_UNITS[word], at + 1
    return "plain", 1, at


def _joined(low: Amount, high: Amount, words: Sequence[str]) -> bool:
    """ "55 to 75", "between 55 and 75": a joint and nothing else between them, and the second is the higher one."""
    between = list(words[low.end : high.first])
    if low.value >= high.value or not all(word in _JOINTS for word in between):
        return False
    if "s" in (low.measure, high.measure) and low.measure != high.measure:
        return False
    before = words[max(0, low.first - 4) : low.first]
    if _SPANS & set(between):
        return True
    return "and" in between and any(word in before for word in _OPEN_RANGE)
