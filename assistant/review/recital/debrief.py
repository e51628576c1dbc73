"""What comes of a talk: points, the wrong limits, the order, what was not safe, what to practise next.

Law: one point for each element that was said, one less for each fault of order or safety, never below none; so a score
can be followed by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from assistant.core.evaluator import bars_movement
from assistant.core.events import Line, Marked, Record, TestId, Verdict
from assistant.review.recital.observing import verdicts
from assistant.review.recital.scheme import Element, Scheme
from assistant.review.recital.sheet import Talk
from assistant.review.recital.wording import wordings

Hazard = Literal["chocked", "barred", "way-clear"]
_SPOKEN_FAULTS = 3  # more can't be kept in mind; the screen has them all


class Debrief(Record):
    """`out_of_order`: (named too early, what has to come first). `unsafe`: facts that were not said before something
    that needs them, or "barred": moved after a failure. `practise`: the first element that was not said right.
    `barred_by`: the test whose failure keeps the vehicle where it is, so that what needs a move is not missed."""

    marks: tuple[Marked, ...]
    verdicts: dict[TestId, Verdict]
    out_of_order: tuple[tuple[TestId, TestId], ...]
    unsafe: tuple[Hazard, ...]
    points: int
    total: int
    practise: str | None
    barred_by: TestId | None = None


def debrief(scheme: Scheme, talk: Talk) -> Debrief:
    """All that is told after a recital."""
    setup = scheme.setup
    found = verdicts(talk.given, scheme.tests, scheme.standard, setup.vehicle)
    judged = dict(talk.judged)
    barred_by = next(iter(_barring(found)), None)
    marks = tuple(
        _judged_wrong(mark, found, judged)
        for mark in talk.marks
        if barred_by is None or mark.state != "missed" or not _needs_a_move(scheme, mark.element)
    )
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
        barred_by=barred_by,
    )


def unsafe_in(scheme: Scheme, talk: Talk) -> tuple[Hazard, ...]:
    """Chocks before anything is released, no move after a failure, an empty way before the vehicle is moved."""
    marks = {mark.element: mark for mark in talk.marks}
    found: list[Hazard] = []
    released, chocked = marks.get("fact.released"), marks.get("fact.chocked")
    if released and chocked and _said_late(chocked, released.at_ms if released.state == "said" else None):
        found.append("chocked")
    moves = [
        mark.at_ms
        for test in scheme.moving
        for part in ("action", "reading")
        if (mark := marks[f"{test}.{part}"]).state == "said" and mark.at_ms is not None
    ]
    out = marks.get("fact.chocks-out")
    ready = [out.at_ms] if out and out.state == "said" and out.at_ms is not None else []
    if _moved_though_barred(scheme, talk, [*moves, *ready]):
        found.append("barred")
    way = marks.get("fact.way-clear")
    if way and _said_late(way, min(moves, default=None)):
        found.append("way-clear")
    return tuple(found)


def spoken(scheme: Scheme, told: Debrief) -> tuple[Line, ...]:
    """The debrief as it is spoken: the score, what was not safe, the first wrong limits, what to practise."""
    lines = [Line(prompt="recital.score", values={"points": told.points, "total": told.total}), *_unsafe(told)]
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


def faults(told: Debrief) -> list[Line]:
    """What was not asked for and why, what was not safe, and what was out of order."""
    pairs = told.out_of_order
    return _unsafe(told) + [Line(prompt="recital.order", values={"later": one, "first": first}) for one, first in pairs]


def _unsafe(told: Debrief) -> list[Line]:
    barred = [] if told.barred_by is None else [Line(prompt="recital.barred", values={"test": told.barred_by})]
    return barred + [Line(prompt=f"unsafe.{hazard}") for hazard in told.unsafe]


def in_points(told: Debrief) -> Line:
    """How the points come about."""
    return Line(
        prompt="recital.points",
        values={
            "said": sum(mark.state == "said" for mark in told.marks),
            "total": told.total,
            "late": len(told.out_of_order),
            "unsafe": len(told.unsafe),
            "points": told.points,
        },
    )


def what_was_said(scheme: Scheme, mark: Marked, written: Callable[[Line], str]) -> str:
    """The words of a mark; of a wrong one, what was wrong with them. `written`: spells a line."""
    if mark.state != "wrong":
        return mark.words
    return " ".join(written(line) for line in correction(scheme, mark))


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
    limit = scheme.limit(one.test) if one.part == "limit" else None
    part = "rule" if limit is not None and limit.quantity == "answer" else one.part
    return Line(prompt=f"element.{part}", values={"test": one.test})


def _judged_wrong(mark: Marked, found: dict[TestId, Verdict], judged: dict[TestId, bool]) -> Marked:
    """A judgement against the verdict that the readings give is wrong."""
    test, _, part = mark.element.rpartition(".")
    verdict = next((verdict for of, verdict in found.items() if of == test), None)
    said = next((passes for of, passes in judged.items() if of == test), None)
    if part != "judgement" or mark.state != "said" or verdict is None or verdict.outcome == "not judged":
        return mark
    return mark if said == (verdict.outcome == "pass") else mark.model_copy(update={"state": "wrong"})


def _barring(found: dict[TestId, Verdict]) -> list[TestId]:
    """Tests that failed and whose failure keeps the vehicle where it is. In words a test that was not judged bars
    nothing: half of it was only not said."""
    return [test for test, verdict in found.items() if verdict.outcome == "fail" and bars_movement(verdict)]


def _needs_a_move(scheme: Scheme, element: str) -> bool:
    """Whether it can only be said by somebody who moves the vehicle, or is about to."""
    one = element_of(scheme, element)
    return one.test in scheme.moving and one.part not in ("name", "limit")


def _moved_though_barred(scheme: Scheme, talk: Talk, moves: list[int]) -> bool:
    """Whether the vehicle was moved or made ready for it (`moves`: when) after the reading that failed."""
    if not moves:
        return False
    failed = _barring(verdicts(talk.given, scheme.tests, scheme.standard, scheme.setup.vehicle))
    known = [at for test in failed if (at := talk.mark(f"{test}.reading").at_ms) is not None]
    return bool(known) and max(moves) > min(known)


def _before(later: TestId, first: TestId, talk: Talk) -> bool:
    return later in talk.named and first in talk.named and talk.named[later] < talk.named[first]


def _said_late(fact: Marked, needed_ms: int | None) -> bool:
    if needed_ms is None:
        return False
    return fact.state != "said" or fact.at_ms is None or fact.at_ms > needed_ms
