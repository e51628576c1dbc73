"""The readings of one check under another standard or edition, and what that changes.

Law: the same readings, holds and answers, judged anew; nothing is read into them that the driver was not asked.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.core.dialogue import State
from assistant.core.evaluator import evaluate
from assistant.core.events import TestId, Verdict
from assistant.core.standard import Standard


@dataclass(frozen=True)
class Again:
    """One test: the verdict then and by the other standard. None: not a test of that standard for this vehicle, or not
    done in the check."""

    test: TestId
    then: Verdict | None
    now: Verdict | None

    @property
    def changed(self) -> bool:
        """Whether another outcome comes out."""
        return (self.then and self.then.outcome) != (self.now and self.now.outcome)


def rejudge(state: State, other: Standard) -> tuple[Again, ...]:
    """Every test that was done or that `other` has, in the order of the check, then in that of `other`."""
    vehicle = state.setup.vehicle
    asked = other.order(vehicle)
    tests = [*state.verdicts, *(test for test in asked if test not in state.verdicts)]
    judged: list[Again] = []
    for test in tests:
        seen = state.observations.get(test)
        now = None
        if seen is not None and test in asked:
            earlier = {name: one for name, one in state.observations.items() if name != test}
            now = evaluate(seen, other, vehicle, earlier)
        judged.append(Again(test, state.verdicts.get(test), now))
    return tuple(judged)
