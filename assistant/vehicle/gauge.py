"""The dash gauge: needles that lag, stop at the ends of the scale and may stick, over marks that round a reading.

Law: the gauge only follows the two service tanks; nothing in the air system ever depends on what it shows.
"""

from __future__ import annotations

from math import exp

LAG = 0.3
"""Time constant of a needle, seconds. Assumption."""
SCALE_END = 150.0
"""psi at the end of the scale, where the needle rests on its stop: the usual dash gauge, common practice, no source."""


class PressureNeedle:
    """One needle. `stiction_psi`: it stands still until the pressure has left it by so much, then jumps there."""

    __slots__ = ("_free", "_step", "_stiction", "psi")

    def __init__(self, psi: float, step_s: float, stiction_psi: float = 0.0) -> None:
        self.psi = self._free = min(max(psi, 0.0), SCALE_END)
        self._step = 1.0 - exp(-step_s / LAG)
        self._stiction = stiction_psi

    def follow(self, psi: float) -> None:
        """One time step towards the pressure `psi` in the tank."""
        self._free += (psi - self._free) * self._step
        if abs(self._free - self.psi) >= self._stiction:
            self.psi = min(max(self._free, 0.0), SCALE_END)


def at_mark(psi: float, mark_psi: float) -> float:
    """What a person reads: the nearest mark."""
    return round(psi / mark_psi) * mark_psi
