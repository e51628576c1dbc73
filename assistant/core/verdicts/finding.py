"""What judging one test works on, and what it finds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assistant.core.events import Line, Needle, Observation, Outcome, Reading, TestId, Unit, Value, Vehicle
from assistant.core.interval import Interval, Stands, exact
from assistant.core.limit import Limit
from assistant.core.pressure import convert
from assistant.core.standard import Standard

OUTCOME: dict[Stands, Outcome] = {
    "inside": "pass",
    "below": "fail",
    "above": "fail",
    "unclear below": "not judged",
    "unclear above": "not judged",
}


@dataclass(frozen=True)
class Case:
    """One observation with all that its verdict depends on."""

    observation: Observation
    limit: Limit
    standard: Standard
    vehicle: Vehicle
    earlier: Mapping[TestId, Observation]

    def readings(self, slot: str) -> tuple[Reading, ...]:
        return self.observation.readings.get(slot, ())

    def answer(self, key: str) -> str | None:
        return self.observation.answers.get(key)

    def interval(self, reading: Reading, slot: str) -> Interval:
        """What the reading may have been: half a mark of the gauge to either side (a reading is good to about half a
        mark, common practice), or the range that was spoken, whichever is wider."""
        marks = exact(self.vehicle.gauge_mark) / 2 if self.vehicle.gauge_mark else Fraction(0)
        spoken = exact(self.observation.within.get(slot, 0.0))
        return Interval.around(exact(reading.value), max(marks, spoken, Fraction(0)))

    def cut_out(self, unit: Unit) -> Fraction | None:
        """The highest cut-out pressure that was read in this check."""
        found = self.earlier.get("governor-cut-out")
        readings = found.readings.get("at", ()) if found else ()
        return max((convert(exact(reading.value), reading.unit, unit) for reading in readings), default=None)


@dataclass(frozen=True)
class Finding:
    """A verdict before the limit's words and source are added. `margin`: positive inside, in `unit`."""

    outcome: Outcome
    reason: Line
    margin: Fraction | None = None
    unit: str | None = None
    needle: Needle | None = None
    notes: tuple[Line, ...] = ()


def line(prompt: str, **values: Value) -> Line:
    return Line(prompt=prompt, values=values)


def not_judged(prompt: str, **values: Value) -> Finding:
    return Finding("not judged", line(prompt, **values))


def worst(findings: list[Finding]) -> Finding:
    """A failure before a doubt before a pass; among equals the smallest margin. `findings` is not empty."""
    rank = {"fail": 0, "not judged": 1, "pass": 2}
    return min(findings, key=lambda found: (rank[found.outcome], found.margin if found.margin is not None else 0))
