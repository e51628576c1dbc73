"""What kind of action and limit a test has as far as its wording goes, and whether figures are those of it."""

from __future__ import annotations

from assistant.core.events import TestId, Unit
from assistant.core.limit import Limit
from assistant.review.recital.figures import Amount
from assistant.review.recital.scheme import Element, bounds_of, span_of

ACTIONS: dict[TestId, str] = {
    "build-up": "build-up",
    "governor-cut-out": "governor-cut-out",
    "governor-cut-in": "pump",
    "low-air-warning": "pump",
    "trailer-supply-pop-out": "pump",
    "parking-valve-pop-out": "pump",
    "static-leakage": "leak",
    "applied-leakage": "leak",
    "parking-brake": "tug",
    "trailer-brake": "tug",
    "hand-valve": "lever",
    "service-brake": "roll",
}
"""What is done for a test; several tests are done in the same way."""


def meant_by(element: Element, limit: Limit | None) -> str:
    """The kind that what is learnt has for this element. `limit`: of its test."""
    if element.part == "fact":
        return f"facts.{element.fact}"
    if element.part == "action":
        return f"actions.{ACTIONS[element.test]}"
    if element.part in ("limit", "reading") and limit is not None:
        return f"limits.{kind_of(limit)}" if element.part == "limit" else f"readings.{reading_of(limit)}"
    return "judgements.all" if element.part == "judgement" else f"names.{element.test}"


def denial_of(what: str) -> str:
    """The kind that what is learnt has where this is denied: a fact by its name, "judgement", a kind of limit, ..."""
    return f"denied.{what}"


def kind_of(limit: Limit) -> str:
    """What kind of limit it is, as far as its wording goes."""
    if limit.must:
        return limit.must
    if limit.quantity in ("loss", "time"):
        return limit.quantity
    return limit.comparison.replace(" ", "-").replace("less-than", "at-most")


def reading_of(limit: Limit) -> str:
    """What kind of reading is compared with it."""
    kind = kind_of(limit)
    return kind if kind in ("loss", "time", "held", "felt", "straight") else "at"


def has_the_figures(limit: Limit, said: tuple[Amount, ...], unit: Unit) -> bool | None:
    """Whether these are the figures of the limit, whose direction is known; None: some are missing."""
    seconds = [one.value for one in said if one.measure == "s"]
    others = [value for one in said if one.measure != "s" for value in (one.value, one.high) if value is not None]
    bounds, span = bounds_of(limit, unit), span_of(limit, unit)
    if limit.quantity == "time":
        pairs = [(value, wanted) for value, wanted in zip(others, (span.low, span.high), strict=False)]
        pairs += [(seconds[-1], bounds.high)] if seconds else []
        complete = bool(seconds)
    else:
        wanted = [side for side in (bounds.low, bounds.high) if side]
        pairs = list(zip(sorted(others), wanted, strict=False))
        pairs += [(seconds[-1], (float(bounds.hold_s or 60),))] if limit.quantity == "loss" and seconds else []
        complete = len(others) == len(wanted)
    if any(value not in wanted for value, wanted in pairs):
        return False
    return True if complete else None
