"""What events and effects are about: readings, sentences, observations, verdicts, the vehicle, what was chosen."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Unit = Literal["psi", "kPa"]
Needle = Literal["primary", "secondary"]
VehicleClass = Literal["truck", "bus", "tractor", "combination", "doubles", "triples"]
TestId = Literal[
    "build-up",
    "governor-cut-out",
    "governor-cut-in",
    "static-leakage",
    "applied-leakage",
    "low-air-warning",
    "trailer-supply-pop-out",
    "parking-valve-pop-out",
    "parking-brake",
    "trailer-brake",
    "hand-valve",
    "service-brake",
]
Outcome = Literal["pass", "fail", "not judged"]


class Record(BaseModel):
    """What every record has in common: it can't be changed, and it holds nothing that was not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)

    def __eq__(self, other: object) -> bool:
        """By kind and fields; the short way first, for a replay compares some hundred records in each check."""
        alike = self.__class__ is other.__class__ and self.__dict__ == other.__dict__
        return alike or super().__eq__(other)


class Reading(Record):
    """A gauge value as spoken. `needle` None: the driver did not say which one. `at_ms`: when the number was spoken.
    `within`: half the width of what was spoken as a range ("between 85 and 90": 87.5 within 2.5), None for a number."""

    value: float
    unit: Unit
    needle: Needle | None = None
    at_ms: int | None = None
    within: float | None = None


Value = str | int | float | Reading | tuple[Reading, ...] | None


class Line(Record):
    """One sentence to say: a prompt id of prompts/ and the values that go into it."""

    prompt: str
    values: dict[str, Value] = {}


class Observation(Record):
    """All that a verdict is computed from.

    `readings` by slot: "at" (one moment), "first" and "last" (a hold), "from" and "to" (a rise).
    `seconds`: the measured length of the hold or rise. `answers`: e.g. light -> on | off, held -> held | moved.
    `not_done`: why the test was not carried out, when it was not.
    `within`: by slot, half the width of what was spoken as a range, in the unit of the readings ("between 85 and 90":
    87.5 within 2.5).
    """

    test: TestId
    readings: dict[str, tuple[Reading, ...]] = {}
    seconds: float | None = None
    answers: dict[str, str] = {}
    not_done: str | None = None
    within: dict[str, float] = {}


class Verdict(Record):
    """The answer to one test. `limit` and `source` are text as the standard prints them; `margin` is in `unit`,
    positive on the safe side, None where nothing was compared. `reason` is a sentence of prompts/. `needle`: the one
    that decided. `notes`: what else has to be known with it, never what decided."""

    test: TestId
    outcome: Outcome
    limit: str
    margin: float | None
    unit: str | None
    reason: Line
    source: str
    consequence: str | None = None
    needle: Needle | None = None
    notes: tuple[Line, ...] = ()


class MakerFigure(Record):
    """What the maker of this vehicle prints for one test; it takes the place of a handbook's figure, not of a law's.

    `unit` "s" is for the time of a rise. `where`: the document and page, named in the verdict.
    """

    test: TestId
    at_least: float | None = None
    at_most: float | None = None
    unit: Literal["psi", "kPa", "s"] = "psi"
    where: str


class Vehicle(Record):
    """What is checked. `needles`: how many the gauge has. `gauge_mark`: the pressure between two marks of the gauge,
    in the unit of the readings, None = not known. `absent`: parts that this vehicle does not have.
    `tank_volume`, `chamber_volume`: of the power unit's supply and service reservoirs together, and of its service
    brake chambers together, both in the same unit of volume."""

    vehicle_class: VehicleClass = "combination"
    built: Literal["before March 1975", "March 1975 to February 1997", "since March 1997"] = "since March 1997"
    needles: Literal[1, 2] = 2
    gauge_mark: float | None = None
    absent: tuple[str, ...] = ()
    maker: tuple[MakerFigure, ...] = ()
    tank_volume: float | None = Field(default=None, gt=0)
    chamber_volume: float | None = Field(default=None, gt=0)


class Setup(Record):
    """What was chosen before the check. `unit`: how a number without a unit is taken. `recital`: a trainee talks
    through the check and is marked; strict: no help, asked: when asked for, coach: after a pause as well."""

    standard: str
    vehicle: Vehicle = Vehicle()
    unit: Unit = "psi"
    driver: str | None = None
    fleet_number: str | None = None
    route: str | None = None
    recital: Literal["strict", "asked", "coach"] | None = None
