"""Faults by chance: what an instructor hides in a vehicle when a seed is to choose.

Law: the same seed and the same kind of vehicle give the same faults; every kind of fault comes up.
"""

from __future__ import annotations

from random import Random

from assistant.vehicle.faults import KINDS, Fault
from assistant.vehicle.spec import VehicleSpec

SOUND = 0.15
"""Share of vehicles without a fault."""
TWO = 0.15
"""Share of vehicles with two."""
_SIZES: dict[str, tuple[float, float, float]] = {
    "leak": (1.0, 9.0, 0.5),
    "weak-compressor": (0.2, 0.9, 0.1),
    "governor-high": (126.0, 148.0, 1.0),
    "governor-low": (80.0, 108.0, 1.0),
    "warning-late": (48.0, 64.0, 1.0),
    "trailer-knob-early": (41.0, 64.0, 1.0),
    "parking-knob-early": (38.0, 64.0, 1.0),
    "parking-brake-weak": (0.0, 0.6, 0.1),
    "trailer-brake-weak": (0.0, 0.6, 0.1),
    "needle-sticks": (2.0, 8.0, 1.0),
}
"""From, to and step of the sizes, by the beginning of the fault's name: around what the limits of the trade are."""


def surprise(spec: VehicleSpec, seed: int) -> tuple[Fault, ...]:
    """The faults of this seed: mostly one, now and then none or two."""
    chance = Random(seed)
    names = [name for name, kind in KINDS.items() if kind.fits(spec)]
    draw = chance.random()
    count = 0 if draw < SOUND else 2 if draw > 1.0 - TWO else 1
    return tuple(Fault(name, _size(name, chance)) for name in chance.sample(names, count))


def _size(name: str, chance: Random) -> float | None:
    sizes = next((sizes for start, sizes in _SIZES.items() if name.startswith(start)), None)
    if sizes is None:
        return None
    low, high, step = sizes
    return low + step * chance.randint(0, round((high - low) / step))
