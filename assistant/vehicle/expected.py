"""What the verdict on a test ought to be: the truth about the vehicle, judged by the standard without a gauge between.

Law: the truth comes from `truth`, the judging from the one evaluator; here is only decided what is too near to tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Literal

from assistant.core.evaluator import evaluate
from assistant.core.events import Observation, TestId, Verdict
from assistant.core.events import Vehicle as Record
from assistant.core.standard import Standard
from assistant.vehicle.truth import Manner, truth, truths
from assistant.vehicle.vehicle import Vehicle

Truth = Literal["pass", "fail", "near"]
"""near: the true value lies within half a mark of the gauge of the limit, or as far as a needle of the vehicle sticks,
so that no careful reading can tell; or it depends on how the test is done (see `_OTHERWISE`); or the standard has no
figure."""

_NEEDLES: Mapping[str, Any] = {"seen_on": "needles"}
_OTHERWISE: dict[TestId, Mapping[str, Any]] = {
    # A driver looks at the needles after each application. A leak before the check valves lets the compressor start
    # again in that time, although the needles have not fallen.
    "governor-cut-in": {"lift": 8.0},
    # The needle lags behind a pressure that is being pumped down.
    "low-air-warning": _NEEDLES,
    "trailer-supply-pop-out": _NEEDLES,
    "parking-valve-pop-out": _NEEDLES,
}
"""Another manner, as careful, in which the test may be done: where it comes out otherwise, the truth is near."""


def expected(vehicle: Vehicle, standard: Standard, tests: Iterable[TestId]) -> dict[TestId, Truth]:
    """What a careful check of this vehicle finds, test by test. What can't even be done does not pass."""
    record = vehicle.spec.record.model_copy(update={"gauge_mark": None})
    rise = standard.rise(record)
    manner = Manner(rise=(rise.start.value, rise.end.value)) if rise else Manner()
    found = {
        test: _judged(vehicle, standard, manner, record, seen) for test, seen in truths(vehicle, tests, manner).items()
    }
    for test, otherwise in _OTHERWISE.items():
        if test in found:
            other = replace(manner, **otherwise)
            again = _judged(vehicle, standard, other, record, truth(vehicle, test, other))
            found[test] = again if again == found[test] else "near"
    return found


def _judged(vehicle: Vehicle, standard: Standard, manner: Manner, record: Record, seen: Observation) -> Truth:
    verdict = evaluate(seen, standard, record, {})
    if seen.not_done:
        return "fail"
    if verdict.outcome == "not judged" or _within_doubt(verdict, vehicle, manner, seen.seconds):
        return "near"
    return verdict.outcome


def _within_doubt(verdict: Verdict, vehicle: Vehicle, manner: Manner, seconds: float | None) -> bool:
    """Half a mark of the gauge and what a needle sticks; for a time, what the needle takes for that."""
    doubt = vehicle.spec.gauge_mark_psi / 2 + max(vehicle.condition.stiction_psi.values(), default=0.0)
    if verdict.margin is None:
        return False
    if verdict.unit == "s":
        start, end = manner.rise
        doubt *= (seconds or 0.0) / (end - start)
    return abs(verdict.margin) <= doubt
