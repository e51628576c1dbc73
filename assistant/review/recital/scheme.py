"""What a talk-through has to hold for one standard and one vehicle, element by element.

Law: the elements come from the plan and the limits from the standard; nothing is written twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from assistant.core.events import Record, Setup, TestId, Unit
from assistant.core.limit import Limit
from assistant.core.plan import Fact, Plan, Test
from assistant.core.pressure import Pressure
from assistant.core.standard import Standard

Part = Literal["name", "limit", "action", "reading", "judgement", "fact"]


class Element(Record):
    """One thing to say. `id`: "static-leakage.limit", "fact.chocked". `test`: the one it belongs to, or the first that
    needs the fact."""

    id: str
    part: Part
    test: TestId
    fact: Fact | None = None


class Scheme(Record):
    """`elements` in the order in which they are said. `moving`: the tests that move the vehicle."""

    setup: Setup
    standard: Standard
    elements: tuple[Element, ...]
    tests: tuple[TestId, ...]
    moving: tuple[TestId, ...]

    def limit(self, test: TestId) -> Limit | None:
        return self.standard.limit(test, self.setup.vehicle)


def scheme_of(setup: Setup, standard: Standard, plan: Plan) -> Scheme:
    """The elements of this check. A test without any figure has no limit to say."""
    elements: list[Element] = []
    known: set[Fact] = set()
    for test in plan.tests:
        facts = _facts(test, plan)
        for fact in facts:
            if fact not in known:
                elements.append(Element(id=f"fact.{fact}", part="fact", test=test.id, fact=fact))
        known |= {*facts, *(fact for step in test.steps for fact in step.makes)}
        limit = standard.limit(test.id, setup.vehicle)
        for part in _parts(limit):
            elements.append(Element(id=f"{test.id}.{part}", part=part, test=test.id))
    return Scheme(
        setup=setup,
        standard=standard,
        elements=tuple(elements),
        tests=tuple(test.id for test in plan.tests),
        moving=tuple(test.id for test in plan.tests if test.moves),
    )


def _facts(test: Test, plan: Plan) -> tuple[Fact, ...]:
    """What the steps of a test need, what their gates need first."""
    found: list[Fact] = []

    def add(facts: Sequence[Fact]) -> None:
        for fact in facts:
            if fact not in found:
                add(plan.gates[fact].needs)
                found.append(fact)

    for step in test.steps:
        add(step.needs)
    return tuple(found)


def _parts(limit: Limit | None) -> tuple[Part, ...]:
    if limit is None or limit.comparison == "no figure":
        return ("name", "action", "reading", "judgement")
    return ("name", "action", "limit", "reading", "judgement")


class Bounds(Record):
    """What the standard allows, as figures that may be said: any of `low` is the lower bound, any of `high` the upper
    one; empty: there is none. `hold_s`: how long a loss is watched."""

    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    hold_s: int | None = None


def bounds_of(limit: Limit, unit: Unit) -> Bounds:
    """The bounds in `unit`; of a time, in seconds."""
    seconds = limit.seconds_at_most or limit.seconds_less_than
    if limit.quantity == "time":
        return Bounds(high=(seconds,) if seconds else ())
    hold = (60 if limit.per_minute else limit.hold) if limit.quantity == "loss" else None
    return Bounds(low=_said(limit.at_least, unit), high=_said(limit.at_most or limit.less_than, unit), hold_s=hold)


def span_of(limit: Limit, unit: Unit) -> Bounds:
    """Where the time of build-up begins and ends."""
    return Bounds(low=_said(limit.rise_from, unit), high=_said(limit.rise_to, unit))


def _said(pressure: Pressure | None, unit: Unit) -> tuple[float, ...]:
    """As printed or converted to a tenth, as a mark of the gauge, and to the nearest whole."""
    if pressure is None:
        return ()
    whole = float(round(pressure.value(unit) + Fraction(0)))
    return tuple(sorted({pressure.shown(unit).value, pressure.mark(unit).value, whole}))
