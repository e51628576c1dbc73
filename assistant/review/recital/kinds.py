"""What kind of action and limit a test has as far as its wording goes."""

from __future__ import annotations

from assistant.core.events import TestId
from assistant.core.limit import Limit
from assistant.review.recital.scheme import Element

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


def denial_of(kind: str) -> str:
    """The kind that what is learnt has where this one is denied."""
    room, _, key = kind.partition(".")
    denied = {"judgements": "judgement", "actions": f"action-{key}"}.get(room, key)
    return f"denied.{denied}"


def about(kind: str) -> str:
    """The kind of limit that a rule of this kind is said about; of anything else it does not matter."""
    room, _, key = kind.partition(".")
    return key if room == "limits" else ""


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
