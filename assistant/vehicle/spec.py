"""What a vehicle is made of: a TOML file, checked and typed.

Law: a file holds sizes and settings a workshop can measure, in the units the trade prints them in; what follows from
them is computed here. A file may be `based_on` another one and then names only what differs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, model_validator

from assistant.core.events import Vehicle, VehicleClass
from assistant.core.trouble import BadInput
from assistant.vehicle.tables import Part, checked, read

SHELF = Path(__file__).parent
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class Engine(Part):
    """Speeds in revolutions a minute. `operating_rpm`: the fast idle at which a driver builds up air."""

    idle_rpm: Positive
    operating_rpm: Positive
    governed_rpm: Positive
    tug_kn: Positive = Field(description="pull at the wheels in low gear at idle, clutch slipping, kN")

    @model_validator(mode="after")
    def _rising(self) -> Engine:
        if not self.idle_rpm < self.operating_rpm < self.governed_rpm:
            raise ValueError("idle_rpm, operating_rpm and governed_rpm have to rise in this order")
        return self


class Compressor(Part):
    """Reciprocating, driven by the engine. `best` and `clearance`: see `air.volumetric_efficiency`."""

    swept_in3: Positive
    revolutions_per_engine_revolution: Positive
    best: Annotated[float, Field(gt=0, le=1)]
    clearance: Annotated[float, Field(gt=0, lt=0.2)]


class Tanks(Part):
    wet_in3: Positive
    primary_in3: Positive
    secondary_in3: Positive


class Chambers(Part):
    """Service brake chambers of one circuit together.

    A chamber's type number is its area in square inches; its rated volume includes the space in front of the relaxed
    diaphragm. `apply` and `exhaust`: ISO 6358 sonic conductance of valve and lines, all chambers together, dm3/(s bar).
    """

    count: Annotated[int, Field(gt=0)]
    area_in2: Positive
    rated_in3: Positive
    full_stroke_in: Positive
    working_stroke_in: Positive
    apply: Positive
    exhaust: Positive

    @model_validator(mode="after")
    def _has_room(self) -> Chambers:
        if self.rated_in3 <= self.area_in2 * self.full_stroke_in:
            raise ValueError("rated_in3 has to be more than area_in2 times full_stroke_in")
        if self.working_stroke_in > self.full_stroke_in:
            raise ValueError("working_stroke_in can't be longer than full_stroke_in")
        return self

    @property
    def dead_in3(self) -> float:
        return self.count * (self.rated_in3 - self.area_in2 * self.full_stroke_in)

    @property
    def swept_in3(self) -> float:
        return self.count * self.area_in2 * self.working_stroke_in


class SpringBrakes(Part):
    """All spring brake chambers of one unit together: volume with the springs on, and what they take to release."""

    dead_in3: Positive
    swept_in3: Positive


class Towed(Part):
    """One towed vehicle; `trailers` of them in a row are taken as one with everything so many times."""

    trailers: Annotated[int, Field(ge=1, le=3)] = 1
    reservoir_in3: Positive
    line_in3: Positive
    fill: Positive = Field(description="line to reservoir, dm3/(s bar)")
    service: Chambers
    springs: SpringBrakes
    weight_kg: Positive


class VehicleSpec(Part):
    """A vehicle as it left the factory. psi are gauge psi."""

    title: str
    vehicle_class: VehicleClass
    weight_kg: Positive
    engine: Engine
    compressor: Compressor
    tanks: Tanks
    rear: Chambers
    front: Chambers
    springs: SpringBrakes
    supply_line_in3: Positive | None = Field(default=None, description="of the power unit; none: no trailer knob")
    towed: Towed | None = None
    cut_out_psi: Positive
    cut_in_psi: Positive
    safety_valve_psi: Positive
    warning_psi: Positive
    parking_pop_psi: Positive
    trailer_pop_psi: Positive = 40.0
    check_valve: Positive = Field(description="wet tank to each service tank, dm3/(s bar)")
    check_valve_psi: NotNegative = Field(description="pressure it takes to open")
    dash_valve_in: Positive = Field(description="parking and trailer supply valve, filling, dm3/(s bar)")
    dash_valve_out: Positive = Field(description="the same, emptying")
    gauge_mark_psi: Positive = Field(description="pressure between two marks")

    @model_validator(mode="after")
    def _fits_together(self) -> VehicleSpec:
        if not self.cut_in_psi < self.cut_out_psi < self.safety_valve_psi:
            raise ValueError("cut_in_psi, cut_out_psi and safety_valve_psi have to rise in this order")
        if self.towed and self.supply_line_in3 is None:
            raise ValueError("a towed vehicle needs supply_line_in3 on the power unit")
        return self

    @property
    def reservoirs_in3(self) -> float:
        """Supply and service reservoirs of the power unit, in3."""
        return self.tanks.wet_in3 + self.tanks.primary_in3 + self.tanks.secondary_in3

    @property
    def chambers_in3(self) -> float:
        """Rated volume of the service chambers of the power unit, in3."""
        return sum(each.count * each.rated_in3 for each in (self.rear, self.front))

    @property
    def required_reservoirs_in3(self) -> float:
        """12 times the rated volume of its service chambers, in3. Source: 49 CFR 571.121 S5.1.2.1."""
        return 12.0 * self.chambers_in3

    @property
    def record(self) -> Vehicle:
        """The same vehicle as a session log describes it."""
        return Vehicle(
            vehicle_class=self.vehicle_class,
            gauge_mark=self.gauge_mark_psi,
            tank_volume=self.reservoirs_in3,
            chamber_volume=self.chambers_in3,
        )


def shipped() -> tuple[str, ...]:
    """Names of the vehicles that come with the program."""
    return tuple(sorted(path.stem for path in SHELF.glob("*.toml")))


def load(which: str | Path, beside: Path = Path()) -> VehicleSpec:
    """Read a shipped vehicle by name, or any vehicle file by its path, seen from the folder `beside`.

    Raises BadInput with the fields at fault when the file can't be used.
    """
    path = _locate(which, beside)
    return checked(VehicleSpec, _tables(path, seen=()), path)


def _locate(which: str | Path, beside: Path) -> Path:
    path = SHELF / f"{which}.toml" if str(which) in shipped() else beside / which
    if path.is_file():
        return path
    raise BadInput(f"There is no vehicle {which}. Give one of {', '.join(shipped())}, or the path of a vehicle file.")


def _tables(path: Path, seen: tuple[Path, ...]) -> dict[str, Any]:
    """The file laid over the one that it is based on."""
    if path.resolve() in seen:
        raise BadInput(f"The vehicle file {path} is based on itself. Take out one of the based_on lines.")
    tables = read(path)
    base = tables.pop("based_on", None)
    if base is None:
        return tables
    return _laid_over(_tables(_locate(str(base), path.parent), (*seen, path.resolve())), tables)


def _laid_over(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    merged = dict(under)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(merged.get(key), dict)
        merged[key] = _laid_over(merged[key], value) if both else value
    return merged
