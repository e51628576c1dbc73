"""Whether the bounds that were said are those of the limit.

Law: numbers are compared exactly, as printed or converted, never by likeness; half of a limit, or one without a
direction, is neither right nor wrong.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.core.events import TestId, Unit
from assistant.core.limit import Limit
from assistant.review.recital.figures import Amount
from assistant.review.recital.scheme import bounds_of, span_of
from assistant.review.recital.sentences import Sentence

_FALLS: tuple[TestId, ...] = (
    "governor-cut-in",
    "low-air-warning",
    "trailer-supply-pop-out",
    "parking-valve-pop-out",
)
_LEVELS = ("psi", "kPa", "s", "plain")
_PIECE = 2  # "two pounds over", "zero to": no bound
_AFTER_NUMBER = frozenset({
    "and", "psi", "on", "so", "that", "which", "then", "by", "it", "the", "again", "ok", "okay", "with", "in",
    "or", "when", ",", "pounds", "from", "primary", "secondary", "before", "after", "at", "within", "as", "now",
    "for", "while", "good", "fine", "i", "we", "this", "but", "to", "if", "until", "because", "pass", "passes",
    "than", "per", "according", "here", "there", "right", "no", "during", "over", "between", "is", "are", "must",
    "should", "may", "can", "would", "will", "fails", "means", "loss",
    "drop", "maximum", "minimum", "limit", "exactly", "each", "up", "upward", "upwards", "tops", "also",
})  # fmt: skip


def is_of_pressure_or_time(amount: Amount, sentence: Sentence) -> bool:
    """A number of something else ("thirty people", "route sixty six") is followed by what it is of."""
    if amount.measure in ("psi", "kPa", "s"):
        return True
    after = sentence.words[amount.end : amount.end + 2]
    return amount.measure == "plain" and (not after or after[0] in _AFTER_NUMBER or after == ("a", "minute"))


def agrees(limit: Limit, said: Sequence[Amount], unit: Unit, test: TestId) -> bool | None:
    """Whether the bounds that were said are those of the limit; None: too little of them was said to tell."""
    timed = limit.quantity == "time"
    seconds = [one for one in said if one.measure == "s"]
    others = [one for one in said if one.measure != "s"]
    if timed:
        span = [one for one in others if one.high is not None]
        if any(not _spans(one, limit, unit) for one in span):
            return False
        others = seconds
    elif limit.quantity == "loss":
        held = bounds_of(limit, unit).hold_s
        if any(one.value != held and one.value >= 30 for one in seconds):
            return False
    if not others:
        return None
    return _agree(limit, others, unit, test)


def has_the_figures(limit: Limit, said: Sequence[Amount], unit: Unit) -> bool | None:
    """Whether these are the figures of the limit, in any order, where its direction is known; None: some are missing.
    "Two pounds over" and "zero to" add none, and neither does how long a loss is watched. "85 to one hundred forty five
    seconds" is 100 and 45 in one number."""
    bounds, span = bounds_of(limit, unit), span_of(limit, unit)
    timed = limit.quantity == "time"
    needed = [side for side in (bounds.low, bounds.high) if side]
    known = [*needed, *((span.low, span.high) if timed else ())]
    left = [value for one in said if one.measure in _LEVELS for value in (one.value, one.high) if value is not None]
    if timed:
        left = [part for value in left for part in _apart(value, span.high, bounds.high)]
    found = []
    for side in known:
        value = next((value for value in left if value in side), None)
        if value is not None:
            left.remove(value)
            found.append(side)
    if any(value > _PIECE and value != bounds.hold_s for value in left):
        return False
    return True if all(side in found for side in needed) else None


def _apart(value: float, highs: Sequence[float], seconds: Sequence[float]) -> tuple[float, ...]:
    """A number that is two, said one behind the other."""
    return next(((high, time) for high in highs for time in seconds if high + time == value), (value,))


def _agree(limit: Limit, said: Sequence[Amount], unit: Unit, test: TestId) -> bool | None:
    lows: list[tuple[Amount, float]] = []
    highs: list[tuple[Amount, float]] = []
    for one in said:
        way = _way(one, limit, test)
        if way == "range" and one.high is not None:
            lows.append((one, one.value))
            highs.append((one, one.high))
        elif way == "min":
            lows.append((one, one.value))
        elif way == "max":
            highs.append((one, one.value))
        else:
            wanted = bounds_of(limit, _unit(one, unit))
            if one.value not in wanted.low + wanted.high:
                return False
    ok = all(value in bounds_of(limit, _unit(one, unit)).low for one, value in lows[-1:])
    ok = ok and all(value in bounds_of(limit, _unit(one, unit)).high for one, value in highs[-1:])
    if not ok:
        return False
    wanted = bounds_of(limit, unit)
    complete = bool(lows) == bool(wanted.low) and bool(highs) == bool(wanted.high)
    return True if complete else None


def _way(amount: Amount, limit: Limit, test: TestId) -> str:
    if amount.way in ("range", "min", "max"):
        return amount.way
    if limit.quantity in ("loss", "time"):
        return "max"
    if amount.way == "early":
        return "max" if test in _FALLS else "min"
    if amount.before or amount.way == "late":
        return "min" if test in _FALLS else "max"
    return "at"


def _spans(amount: Amount, limit: Limit, unit: Unit) -> bool:
    wanted = span_of(limit, _unit(amount, unit))
    return amount.value in wanted.low and amount.high in wanted.high


def _unit(amount: Amount, unit: Unit) -> Unit:
    return "kPa" if amount.measure == "kPa" else "psi" if amount.measure == "psi" else unit
