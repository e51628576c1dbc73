"""The study aid: a model talk-through in our own wording, for one standard and vehicle."""

from __future__ import annotations

from assistant.core.events import Line, TestId
from assistant.review.recital.scheme import Scheme


def card(scheme: Scheme) -> dict[TestId, tuple[Line, ...]]:
    """What to say, test by test: the facts that it needs first, its name, what is done, its limit, how to end it."""
    facts: dict[TestId, list[Line]] = {test: [] for test in scheme.tests}
    for element in scheme.elements:
        if element.fact is not None:
            facts[element.test].append(Line(prompt=f"card.{element.fact}"))
    return {test: (*facts[test], *_of_test(scheme, test)) for test in scheme.tests}


def _of_test(scheme: Scheme, test: TestId) -> tuple[Line, ...]:
    limit = scheme.standard.limit_line(test, scheme.setup.vehicle, scheme.setup.unit)
    return (
        Line(prompt="card.name", values={"test": test}),
        Line(prompt=f"card.do-{test}"),
        limit,
        Line(prompt="card.end"),
    )
