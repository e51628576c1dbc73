"""Readings and answers that were given in free talk, judged by the same evaluator as in a check.

Law: nothing is added to what was said. A loss takes both readings and the time for which the needles were watched, as
it was said ("I watch the needles for one minute"); one number alone is no loss that can be judged.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.core.evaluator import evaluate
from assistant.core.events import Observation, Reading, Record, TestId, Unit, Vehicle, Verdict
from assistant.core.standard import Standard

_ANSWER: dict[TestId, tuple[str, str, str]] = {
    "parking-brake": ("held", "held", "moved"),
    "trailer-brake": ("held", "held", "moved"),
    "hand-valve": ("felt", "yes", "no"),
    "service-brake": ("pull", "straight", "left"),
}
_LEAKS: tuple[TestId, ...] = ("static-leakage", "applied-leakage")


class Given(Record):
    """One reading (`value` in `unit`, or in seconds; to `high` for a range) or answer (True: as it has to be).
    `hold_s`: no reading, but how long the needles were watched."""

    test: TestId
    value: float | None = None
    high: float | None = None
    unit: Unit = "psi"
    seconds: bool = False
    answer: bool | None = None
    hold_s: float | None = None
    at_ms: int


def verdicts(
    given: Sequence[Given], tests: Sequence[TestId], standard: Standard, vehicle: Vehicle
) -> dict[TestId, Verdict]:
    """The verdict on each test that something was said about."""
    earlier: dict[TestId, Observation] = {}
    found: dict[TestId, Verdict] = {}
    for test in tests:
        said = [one for one in given if one.test == test]
        if all(one.hold_s is not None for one in said):
            continue
        observation = _observation(test, said)
        found[test] = evaluate(observation, standard, vehicle, earlier)
        earlier[test] = observation
    return found


def _observation(test: TestId, said: Sequence[Given]) -> Observation:
    answers = [one.answer for one in said if one.answer is not None]
    if test in _ANSWER:
        key, good, bad = _ANSWER[test]
        return Observation(test=test, answers={key: good if answers[-1] else bad} if answers else {})
    seconds = [one.hold_s or one.value for one in said if one.seconds or one.hold_s]
    readings = [_reading(one) for one in said if not one.seconds and one.value is not None]
    slots = ("first", "last") if test in _LEAKS else ("from", "to") if test == "build-up" else ("at",)
    last = readings[-len(slots) :]
    return Observation(
        test=test,
        readings={slot: (reading,) for slot, reading in zip(slots, last, strict=False)},
        seconds=seconds[-1] if seconds else None,
    )


def _reading(one: Given) -> Reading:
    low = one.value or 0.0
    high = low if one.high is None else one.high
    within = (high - low) / 2 or None
    return Reading(value=(low + high) / 2, unit=one.unit, at_ms=one.at_ms, within=within)
