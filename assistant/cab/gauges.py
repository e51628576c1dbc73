"""Where the needles of a simulated vehicle stood, for the log: a few seconds together in one event.

Law: nobody in the check gets to know it; the dialogue answers it with nothing, and the report draws it.
"""

from __future__ import annotations

from assistant.core.events import Gauges, Needle
from assistant.vehicle.vehicle import Vehicle

EVERY_MS = 500
"""Between two samples: a valve that pops out shows, and an hour takes less than 100 kB."""
_TOGETHER = 30


class GaugeTrace:
    """Gathers samples, and gives them away as events."""

    def __init__(self) -> None:
        self._from_ms = 0
        self._psi: dict[Needle, list[float]] = {}

    def look(self, at_ms: int, vehicle: Vehicle) -> Gauges | None:
        """Keep this moment, if it is time; the event when enough has come together."""
        if at_ms % EVERY_MS:
            return None
        if not self._psi:
            self._from_ms = at_ms
        for needle, psi in vehicle.needles().items():
            self._psi.setdefault(needle, []).append(round(psi, 1))
        return self.rest() if len(next(iter(self._psi.values()))) >= _TOGETHER else None

    def rest(self) -> Gauges | None:
        """What has been gathered since the last event; None: nothing."""
        kept, self._psi = self._psi, {}
        if not kept:
            return None
        return Gauges(from_ms=self._from_ms, step_ms=EVERY_MS, psi={name: tuple(psi) for name, psi in kept.items()})
