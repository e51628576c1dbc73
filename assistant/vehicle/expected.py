"""What the verdict on a test ought to be: the truth about the vehicle, judged by the standard without a gauge between.

Law: the truth comes from `truth`, the judging from the one evaluator; here is only decided what is too near to tell.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from assistant.core.evaluator import evaluate
from assistant.core.events import TestId, Verdict
from assistant.core.standard import Standard
from assistant.vehicle.truth import Manner, truths
from assistant.vehicle.vehicle import Vehicle

Truth = Literal["pass", "fail", "near"]
"""near: the true value lies within half a mark of the gauge of the limit, or as far as a needle of the vehicle sticks,
so that no careful reading can tell; or the standard has no figure."""


def expected(vehicle: Vehicle, standard: Standard, tests: Iterable[TestId]) -> dict[TestId, Truth]:
    """What a careful check of this vehicle finds, test by test. What can't even be done does not pass."""
    record = vehicle.spec.record.model_copy(update={"gauge_mark": None})
    rise = standard.rise(record)
    manner = Manner(rise=(rise.start.value, rise.end.value)) if rise else Manner()
    found: dict[TestId, Truth] = {}
    for test, seen in truths(vehicle, tests, manner).items():
        verdict = evaluate(seen, standard, record, {})
        if seen.not_done:
            found[test] = "fail"
        elif verdict.outcome == "not judged" or _within_doubt(verdict, vehicle, manner, seen.seconds):
            found[test] = "near"
        else:
            found[test] = verdict.outcome
    return found


def _within_doubt(verdict: Verdict, vehicle: Vehicle, manner: Manner, seconds: float | None) -> bool:
    """Half a mark of the gauge and what a needle sticks; for a time, what the needle takes for that."""
    doubt = vehicle.spec.gauge_mark_psi / 2 + max(vehicle.condition.stiction_psi.values(), default=0.0)
    if verdict.margin is None:
        return False
    if verdict.unit == "s":
        start, end = manner.rise
        doubt *= (seconds or 0.0) / (end - start)
    return abs(verdict.margin) <= doubt
