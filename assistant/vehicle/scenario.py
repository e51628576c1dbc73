"""A scenario: a vehicle, what is wrong with it and how it stands there, from a TOML file.

Law: a scenario says everything that a run depends on; the same file gives the same run.

    vehicle = "combination"
    start_psi = 60.0
    [faults]
    leak-trailer-line = 5.5      # a size in the unit of the fault
    warning-light-dead = true    # a fault that has no size, or the usual one
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from assistant.vehicle.faults import Fault
from assistant.vehicle.spec import VehicleSpec, load, shipped
from assistant.vehicle.tables import Part, checked, read
from assistant.vehicle.vehicle import Vehicle


class Scenario(Part):
    """`vehicle`: a shipped vehicle's name, or a path; in a file, seen from that file. `start_psi`: without it, what is
    left over night. The rest: see Vehicle."""

    vehicle: str = "combination"
    start_psi: Annotated[float, Field(ge=0, le=150)] = 60.0
    thermal: bool = False
    slope: Annotated[float, Field(ge=-0.3, le=0.3)] = 0.0
    faults: dict[str, Literal[True] | float] = Field(default_factory=dict)

    @classmethod
    def from_toml(cls, path: Path) -> Scenario:
        """What a scenario file says. Raises BadInput when it can't be used."""
        scenario = checked(cls, read(path), path)
        if scenario.vehicle in shipped():
            return scenario
        return scenario.model_copy(update={"vehicle": str(path.parent / scenario.vehicle)})

    @property
    def spec(self) -> VehicleSpec:
        """Raises BadInput when there is no such vehicle."""
        return load(self.vehicle)

    def standing(self, more: Iterable[Fault] = ()) -> Vehicle:
        """The vehicle as it stands there, with these faults too. Raises BadInput when it can't have one of them."""
        named = (Fault(name, None if size is True else size) for name, size in self.faults.items())
        return Vehicle(self.spec, (*named, *more), start_psi=self.start_psi, thermal=self.thermal, slope=self.slope)
