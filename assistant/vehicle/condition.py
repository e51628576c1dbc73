"""The condition a vehicle is in: everything about it that wear and faults change.

Law: a sound vehicle's condition follows from its spec alone; a fault is a change of some of these fields and nothing
else, so the physics never asks which fault it has.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from assistant.vehicle.spec import VehicleSpec

Place = Literal[
    "wet", "primary", "secondary", "rear", "front", "springs", "trailer-line", "trailer-reservoir", "trailer-chambers"
]
Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Condition:
    """`leaks`: sonic conductance of the hole in each place, m3/(s Pa). `compressor`, `parking_force`, `trailer_force`:
    share of what a sound one gives. A pop pressure of 0 never pops. `stiction_psi`: by needle, how far the pressure
    has to leave it before it jumps. psi are gauge psi."""

    cut_out_psi: float
    cut_in_psi: float
    warning_psi: float
    parking_pop_psi: float
    trailer_pop_psi: float
    leaks: dict[Place, float] = field(default_factory=dict)
    compressor: float = 1.0
    governor_loads: bool = True
    governor_unloads: bool = True
    light_works: bool = True
    buzzer_works: bool = True
    protection_works: bool = True
    parking_force: float = 1.0
    trailer_force: float = 1.0
    pulls_to: Side | None = None
    stiction_psi: dict[str, float] = field(default_factory=dict)

    @classmethod
    def sound(cls, spec: VehicleSpec) -> Condition:
        return cls(
            cut_out_psi=spec.cut_out_psi,
            cut_in_psi=spec.cut_in_psi,
            warning_psi=spec.warning_psi,
            parking_pop_psi=spec.parking_pop_psi,
            trailer_pop_psi=spec.trailer_pop_psi,
        )
