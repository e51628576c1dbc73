"""The vehicle of a trainee: worked by orders, tick by tick, with what its needles do kept for the log.

Law: an order moves the vehicle; what the assistant understands as well, it hears as well, and everything that is no
order. Whether an order was typed or spoken makes no difference here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from assistant.cab.gauges import GaugeTrace
from assistant.core.events import Gauges
from assistant.core.trouble import Trouble
from assistant.vehicle.cab import Happening
from assistant.vehicle.orders import is_order, order
from assistant.vehicle.vehicle import Vehicle

TICK_MS = 100


class Practice:
    """`understood`: whether the assistant makes anything of a text. `look`: told of each tick what could be heard in
    it; `refused`: told why an order can't be carried out."""

    def __init__(
        self,
        vehicle: Vehicle,
        *,
        understood: Callable[[str], bool],
        look: Callable[[Vehicle, tuple[Happening, ...]], None],
        refused: Callable[[str], None],
    ) -> None:
        self._vehicle = vehicle
        self._understood = understood
        self._look = look
        self._refused = refused
        self._trace = GaugeTrace()
        self._work: Iterator[float] = iter(())
        self._works_until = 0
        self.now_ms = 0

    @property
    def working(self) -> bool:
        """An order takes its time."""
        return self.now_ms < self._works_until

    def take(self, text: str) -> bool:
        """Carry out what is an order in `text`; whether the assistant is to hear it too."""
        work = order(text, self._vehicle)
        if work is None:
            return True
        self._work = work
        self._go_on()
        return not is_order(text, self._vehicle) or self._understood(text)

    def tick(self) -> Gauges | None:
        """Let TICK_MS pass; where the needles stood, when enough of it has come together."""
        self.now_ms += TICK_MS
        self._look(self._vehicle, self._vehicle.step(TICK_MS / 1000))
        if not self.working:
            self._go_on()
        return self._trace.look(self.now_ms, self._vehicle)

    def rest(self) -> Gauges | None:
        """Where the needles stood since they were last told of."""
        return self._trace.rest()

    def _go_on(self) -> None:
        try:
            seconds = next(self._work, None)
        except Trouble as trouble:
            self._refused(str(trouble))
            seconds, self._work = None, iter(())
        if seconds is not None:
            self._works_until = self.now_ms + round(1000 * seconds)
