"""A standard: a named, dated set of tests, their order and their limits, with the source of every figure.

Law: typed data and look-ups, no flow and no judging. It is read from TOML (assistant/standards); the JSON schema of
`Standard` is the published format. A vehicle only ever gets the limit that is printed for its class and build date.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import cached_property
from typing import Literal

from pydantic import ConfigDict, Field

from assistant.core.events import Line, MakerFigure, Reading, Record, TestId, Unit, Vehicle
from assistant.core.interval import exact
from assistant.core.limit import HOLD_SECONDS, Limit, Sureness
from assistant.core.pressure import Pressure

Kind = Literal["guide", "handbook", "law"]

_TRAILER_TESTS: tuple[TestId, ...] = ("trailer-supply-pop-out", "trailer-brake", "hand-valve")
_WITH_TRAILER = ("combination", "doubles", "triples")


class Requirement(Record):
    """A pressure that has to be there before something is done."""

    pressure: Pressure
    source: str = Field(min_length=1)
    sure: Sureness


class GaugeRule(Record):
    """How exact the vehicle's gauge has to be. `applied`: the standard widens an absolute reading by it when judging;
    else it is only mentioned. It cancels in a loss."""

    percent_of_cut_out: float | None = Field(None, gt=0)
    percent_of_reading: float | None = Field(None, gt=0)
    applied: bool = False
    source: str = Field(min_length=1)
    sure: Sureness


class Rise(Record):
    """The span of build-up, as marks that a driver can call, and how long it may take at minimum tank volume."""

    start: Reading
    end: Reading
    seconds: float


class Standard(Record):
    """`meaning`: what a result means where this standard is used. `not_part`: tests that it does not have, and why."""

    model_config = ConfigDict(ignored_types=(cached_property,))

    id: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")
    title: str = Field(min_length=1)
    edition: str = Field(min_length=1)
    date: str = Field(pattern=r"^(undated|\d{4}(-\d{2}(-\d{2})?)?)$", description="2019-05-01, or undated")
    kind: Kind
    meaning: str = Field(min_length=1)
    sequence: tuple[TestId, ...] = Field(alias="order", min_length=1)
    order_note: str = ""
    not_part: dict[TestId, str] = Field(default_factory=dict)
    moving: Requirement = Field(alias="before_moving")
    leaking: Requirement | None = Field(None, alias="before_leakage")
    gauge: GaugeRule | None = None
    limits: tuple[Limit, ...]

    def order(self, vehicle: Vehicle) -> tuple[TestId, ...]:
        """The tests of this standard that this vehicle has, in order."""
        return tuple(test for test in self.sequence if self.limit(test, vehicle) and self.fitted(test, vehicle))

    def fitted(self, test: TestId, vehicle: Vehicle) -> bool:
        """Whether the vehicle has what the test is about."""
        trailer = vehicle.vehicle_class in _WITH_TRAILER
        return test not in vehicle.absent and (trailer or test not in _TRAILER_TESTS)

    def limit(self, test: TestId, vehicle: Vehicle) -> Limit | None:
        """The limit for this vehicle, with the maker's figure where that one rules; None: not part of the standard."""
        limit = next((limit for limit in self._by_test.get(test, ()) if limit.covers(vehicle)), None)
        figure = self.maker_figure(test, vehicle)
        if limit is None or figure is None or self.is_law(limit):
            return limit
        return limit.replaced_by(figure)

    @cached_property
    def _by_test(self) -> Mapping[TestId, tuple[Limit, ...]]:
        """Asked for some dozens of times in a check."""
        tests = {limit.test for limit in self.limits}
        return {test: tuple(limit for limit in self.limits if limit.test == test) for test in tests}

    def is_law(self, limit: Limit) -> bool:
        return self.kind == "law" if limit.law is None else limit.law

    def maker_figure(self, test: TestId, vehicle: Vehicle) -> MakerFigure | None:
        return next((figure for figure in vehicle.maker if figure.test == test), None)

    def rise(self, vehicle: Vehicle, unit: Unit = "psi") -> Rise | None:
        """The span and the time of build-up; None: the standard has no such test for this vehicle."""
        limit = self.limit("build-up", vehicle)
        seconds = limit and (limit.seconds_at_most or limit.seconds_less_than)
        if not (limit and limit.rise_from and limit.rise_to and seconds):
            return None
        return Rise(start=limit.rise_from.mark(unit), end=limit.rise_to.mark(unit), seconds=seconds)

    def hold_seconds(self, test: TestId, vehicle: Vehicle) -> int:
        limit = self.limit(test, vehicle)
        return limit.hold if limit else HOLD_SECONDS

    def before_moving(self, unit: Unit = "psi") -> Reading:
        """What every needle has to show before a tug or rolling test."""
        return self.moving.pressure.mark_above(unit)

    def before_leakage(self, unit: Unit = "psi") -> Reading | None:
        """What a leakage test has to start from at least, where the source says so."""
        return self.leaking.pressure.mark_above(unit) if self.leaking else None

    def limit_line(self, test: TestId, vehicle: Vehicle, unit: Unit = "psi") -> Line:
        """The sentence that states the limit."""
        limit = self.limit(test, vehicle)
        return limit.line(unit) if limit else Line(prompt="limit.not-part")

    def gauge_error(self, reading: Fraction, cut_out: Fraction | None) -> Fraction | None:
        """By how much a gauge that this standard accepts may be wrong at `reading`, in the unit of both; None: not
        said, or it depends on a cut-out pressure that is not known."""
        if self.gauge and self.gauge.percent_of_reading:
            return reading * exact(self.gauge.percent_of_reading) / 100
        if self.gauge and self.gauge.percent_of_cut_out and cut_out is not None:
            return cut_out * exact(self.gauge.percent_of_cut_out) / 100
        return None


def required_tank_volume(chamber_volume: float) -> Fraction:
    """Least volume of a power unit's supply and service reservoirs: twelve times the volume of its service brake
    chambers (49 CFR 571.121 S5.1.2.1). Same unit of volume."""
    return 12 * exact(chamber_volume)
