"""The readings of a finished check judged by another standard, beside the verdicts that were given.

Law: only what was observed is used; a test that the other standard has and this check did not do stays open.
"""

from __future__ import annotations

from collections.abc import Mapping

from assistant.core.dialogue import State
from assistant.core.evaluator import evaluate
from assistant.core.events import Observation, Record, TestId, Verdict
from assistant.core.standard import Standard


class Opinion(Record):
    """`given`: the verdict of the check, None: it has none. `other`: by the other standard, None: nothing was
    observed that it could judge."""

    test: TestId
    given: Verdict | None
    other: Verdict | None

    @property
    def changes(self) -> bool:
        return (self.given and self.given.outcome) != (self.other and self.other.outcome)


def opinions(state: State, other: Standard) -> tuple[Opinion, ...]:
    """A row for each test of the check or of the other standard."""
    vehicle = state.setup.vehicle
    tests: Mapping[TestId, None] = dict.fromkeys((*state.verdicts, *other.order(vehicle)))
    return tuple(
        Opinion(
            test=test,
            given=state.verdicts.get(test),
            other=evaluate(state.observations[test], other, vehicle, _earlier(state, test))
            if test in state.observations
            else None,
        )
        for test in tests
    )


def _earlier(state: State, test: TestId) -> Mapping[TestId, Observation]:
    return {name: seen for name, seen in state.observations.items() if name != test}
