"""What comes of a talk: points, the wrong limits, the order, what was not safe, what to practise next.

Law: one point for each element that was said, one less for each fault of order or safety, never below none; so a score
can be followed by hand.
"""

from __future__ import annotations

from assistant.core.events import Line, Marked, Record, TestId, Verdict
from assistant.core.plan import Fact
from assistant.review.recital.marking import Talk
from assistant.review.recital.observing import verdicts
from assistant.review.recital.scheme import Element, Scheme
from assistant.review.recital.wording import wordings

_SPOKEN_FAULTS = 3  # more can't be kept in mind; the screen has them all


class Debrief(Record):
    """`out_of_order`: (named too early, what has to come first). `unsafe`: facts that were not said before something
    that needs them. `practise`: the first element that was not said right."""

    marks: tuple[Marked, ...]
    verdicts: dict[TestId, Verdict]
    out_of_order: tuple[tuple[TestId, TestId], ...]
    unsafe: tuple[Fact, ...]
    points: int
    total: int
    practise: str | None


def debrief(scheme: Scheme, talk: Talk) -> Debrief:
    """All that is told after a recital."""
    setup = scheme.setup
    found = verdicts(talk.given, scheme.tests, scheme.standard, setup.vehicle)
    judged = dict(talk.judged)
    marks = tuple(_judged_wrong(mark, found, judged) for mark in talk.marks)
    order = tuple((later, first) for first, later in wordings().order.before if _before(later, first, talk))
    unsafe = unsafe_in(scheme, talk)
    said = sum(mark.state == "said" for mark in marks)
    return Debrief(
        marks=marks,
        verdicts=found,
        out_of_order=order,
        unsafe=unsafe,
        points=max(0, said - len(order) - len(unsafe)),
        total=len(marks),
        practise=next((mark.element for mark in marks if mark.state != "said"), None),
    )


def unsafe_in(scheme: Scheme, talk: Talk) -> tuple[Fact, ...]:
    """Chocks before anything is released, an empty way before the vehicle is moved."""
    marks = {mark.element: mark for mark in talk.marks}
    found: list[Fact] = []
    released, chocked = marks.get("fact.released"), marks.get("fact.chocked")
    if released and chocked and _said_late(chocked, released.at_ms if released.state == "said" else None):
        found.append("chocked")
    moves = [
        mark.at_ms
        for test in scheme.moving
        for part in ("action", "reading")
        if (mark := marks[f"{test}.{part}"]).state == "said" and mark.at_ms is not None
    ]
    way = marks.get("fact.way-clear")
    if way and _said_late(way, min(moves, default=None)):
        found.append("way-clear")
    return tuple(found)


def spoken(scheme: Scheme, told: Debrief) -> tuple[Line, ...]:
    """The debrief as it is spoken: the score, what was not safe, the first wrong limits, what to practise."""
    lines = [Line(prompt="recital.score", values={"points": told.points, "total": told.total})]
    lines += [Line(prompt=f"unsafe.{fact}") for fact in told.unsafe]
    wrong = [mark for mark in told.marks if mark.state == "wrong"][:_SPOKEN_FAULTS]
    for mark in wrong:
        lines += correction(scheme, mark)
    lines += [
        Line(prompt="recital.order", values={"later": later, "first": first})
        for later, first in told.out_of_order[:_SPOKEN_FAULTS]
    ]
    if told.practise:
        lines += [Line(prompt="recital.practise"), element_line(scheme, told.practise)]
    return (*lines, Line(prompt="recital.caution"))


def correction(scheme: Scheme, mark: Marked) -> list[Line]:
    """What was said, and what the standard says."""
    element = element_of(scheme, mark.element)
    said = Line(prompt="recital.wrong", values={"test": element.test, "words": mark.words})
    if element.part == "judgement":
        return [Line(prompt="recital.misjudged", values={"test": element.test})]
    return [said, scheme.standard.limit_line(element.test, scheme.setup.vehicle, scheme.setup.unit)]


def element_of(scheme: Scheme, element: str) -> Element:
    return next(one for one in scheme.elements if one.id == element)


def element_line(scheme: Scheme, element: str) -> Line:
    """What has to be said for an element."""
    one = element_of(scheme, element)
    if one.fact is not None:
        return Line(prompt=f"element.fact-{one.fact}")
    return Line(prompt=f"element.{one.part}", values={"test": one.test})


def _judged_wrong(mark: Marked, found: dict[TestId, Verdict], judged: dict[TestId, bool]) -> Marked:
    """A judgement against the verdict that the readings give is wrong."""
    test, _, part = mark.element.rpartition(".")
    verdict = next((verdict for of, verdict in found.items() if of == test), None)
    said = next((passes for of, passes in judged.items() if of == test), None)
    if part != "judgement" or mark.state != "said" or verdict is None or verdict.outcome == "not judged":
        return mark
    return mark if said == (verdict.outcome == "pass") else mark.model_copy(update={"state": "wrong"})


def _before(later: TestId, first: TestId, talk: Talk) -> bool:
    return later in talk.named and first in talk.named and talk.named[later] < talk.named[first]


def _said_late(fact: Marked, needed_ms: int | None) -> bool:
    if needed_ms is None:
        return False
    return fact.state != "said" or fact.at_ms is None or fact.at_ms > needed_ms
