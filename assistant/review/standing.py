"""Which verdicts of a log stand: those that what happened in it comes to again.

Law: the log is evidence of what happened, not of what follows from it. A verdict that its events do not lead to, and
one on a test that was opened again, is never shown as if it stood.
"""

from __future__ import annotations

from collections.abc import Mapping

from assistant.core.dialogue import Dialogue, State
from assistant.core.events import Observation, TestId, Verdict


def standing_verdicts(written: Mapping[TestId, Verdict], state: State, *, changed: bool) -> dict[TestId, Verdict]:
    """Those that stand. `state`: what the events come to; `changed`: limits or words are no longer those of the check,
    so that another verdict proves nothing and the written ones are those of then."""
    again = state.verdicts
    return {test: verdict for test, verdict in written.items() if test in again and (changed or verdict == again[test])}


def observed(test: TestId, dialogue: Dialogue, state: State) -> Observation:
    """What the events come to in one test; of the one that is still open, what it has so far."""
    if test in state.observations:
        return state.observations[test]
    is_open = not dialogue.finished(state) and dialogue.plan.tests[state.test].id == test
    return Observation(test=test, readings=state.readings if is_open else {})


def why_none(written: Verdict | None, again: Verdict | None, *, recomputes: bool) -> str:
    """Why a test has no verdict that stands. `again`: what the events come to."""
    if again is None and (recomputes or written is None):
        return "It was begun again and not finished." if written else "The check ended before this test."
    says, comes = written.outcome if written else "nothing", again.outcome if again else "no verdict"
    values = " with other values" if says == comes else ""
    return f"Does not recompute: the log says {says}, what happened in it comes to {comes}{values}. Do the test again."
