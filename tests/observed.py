"""Observations and verdicts for tests, in few words."""

from __future__ import annotations

from collections.abc import Mapping

from assistant import standards
from assistant.core.evaluator import evaluate
from assistant.core.events import Needle, Observation, Reading, TestId, Unit, Vehicle, Verdict

STANDARDS = {standard.id: standard for standard in standards.all_standards()}
NEW = "since March 1997"
MIDDLE = "March 1975 to February 1997"
OLD = "before March 1975"


def reading(value: float, unit: Unit = "psi", needle: Needle | None = None) -> Reading:
    return Reading(value=float(value), unit=unit, needle=needle)


def vehicle(vehicle_class: str = "combination", built: str = NEW, **more: object) -> Vehicle:
    return Vehicle.model_validate({"vehicle_class": vehicle_class, "built": built, **more})


def at(test: TestId, value: float, unit: Unit = "psi", **answers: str) -> Observation:
    return Observation(test=test, readings={"at": (reading(value, unit),)}, answers=answers)


def lost(test: TestId, loss: float, seconds: float = 60, unit: Unit = "psi", first: float | None = None) -> Observation:
    """A hold that lost `loss`, from 118 psi or 820 kPa unless `first` says otherwise."""
    start = first if first is not None else 118.0 if unit == "psi" else 820.0
    last = round(start - loss, 6)
    readings = {"first": (reading(start, unit),), "last": (reading(last, unit),)}
    return Observation(test=test, readings=readings, seconds=seconds)


def rise(start: float, end: float, seconds: float, unit: Unit = "psi") -> Observation:
    readings = {"from": (reading(start, unit),), "to": (reading(end, unit),)}
    return Observation(test="build-up", readings=readings, seconds=seconds)


def answered(test: TestId, **answers: str) -> Observation:
    return Observation(test=test, answers=answers)


def judged(
    observation: Observation,
    standard: str = "common-practice",
    about: Vehicle | None = None,
    earlier: Mapping[TestId, Observation] | None = None,
) -> Verdict:
    return evaluate(observation, STANDARDS[standard], about or Vehicle(), earlier or {})
