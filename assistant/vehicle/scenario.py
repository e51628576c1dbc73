"""A scenario: a vehicle, what is wrong with it and how it stands there, from a TOML file.

Law: a scenario says everything that a run depends on; the same file gives the same run.

    vehicle = "combination"
    start_psi = 60.0
    [faults]
    leak-trailer-line = 5.5      # a size in the unit of the fault
    warning-light-dead = true    # a fault that has no size, or the usual one
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from assistant.vehicle.faults import Fault
from assistant.vehicle.spec import load
from assistant.vehicle.tables import Part, checked, read
from assistant.vehicle.vehicle import Vehicle


class Scenario(Part):
    """`vehicle`: a shipped vehicle's name, or a path seen from the scenario file. The rest: see Vehicle."""

    vehicle: str = "combination"
    start_psi: Annotated[float, Field(ge=0, le=150)] = 0.0
    thermal: bool = False
    slope: Annotated[float, Field(ge=-0.3, le=0.3)] = 0.0
    faults: dict[str, Literal[True] | float] = Field(default_factory=dict)

    @classmethod
    def from_toml(cls, path: Path) -> Vehicle:
        """The vehicle that a scenario file describes. Raises BadInput when the file can't be used."""
        scenario = checked(cls, read(path), path)
        return Vehicle(
            load(scenario.vehicle, beside=path.parent),
            (Fault(name, None if size is True else size) for name, size in scenario.faults.items()),
            start_psi=scenario.start_psi,
            thermal=scenario.thermal,
            slope=scenario.slope,
        )
