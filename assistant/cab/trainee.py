"""The rehearsal of a person: typed lines are what the trainee says, to the vehicle and to the assistant.

Law: an order moves the vehicle; what the assistant understands as well, it hears as well, and everything that is no
order. The vehicle's time is the time of the check; with `jump` it goes on only by what is said and waited for.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator

from assistant.cab.gauges import GaugeTrace
from assistant.core.events import Ended, Event, Gauges, Heard, Said
from assistant.core.trouble import Trouble
from assistant.mouth.console import speaking_ms
from assistant.vehicle.cab import Happening
from assistant.vehicle.orders import is_order, order
from assistant.vehicle.vehicle import Vehicle

TICK_MS = 100
_TYPING_MS = 2000  # what a line takes on a clock that jumps


class TraineeCab:
    """`lines`: what is typed, without line ends. `understood`: whether the assistant makes anything of a line.
    `look`: told of each tick what could be heard in it; `refused`: told why an order can't be carried out."""

    def __init__(
        self,
        vehicle: Vehicle,
        lines: Iterable[str],
        *,
        jump: bool,
        understood: Callable[[str], bool],
        look: Callable[[Vehicle, tuple[Happening, ...]], None],
        refused: Callable[[str], None],
    ) -> None:
        self._vehicle = vehicle
        self._jump = jump
        self._understood = understood
        self._look = look
        self._refused = refused
        self._now_ms = 0
        self._trace = GaugeTrace()
        self._gauges: Gauges | None = None
        self._started = time.monotonic()
        self._said: list[tuple[int, Said]] = []
        self._work: Iterator[float] = iter(())
        self._works_until = 0
        self._lines = iter(lines)
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        if not jump:
            threading.Thread(target=self._read_ahead, daemon=True).start()

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        while True:
            if self._gauges is not None:
                kept, self._gauges = self._gauges, None
                return self._now_ms, kept
            if self._said and self._said[0][0] <= self._now_ms:
                return self._now_ms, self._said.pop(0)[1]
            if until_ms is not None and until_ms <= self._now_ms:
                return None
            if self._busy(holding):
                self._pass()
                continue
            line = self._line()
            if line is None:
                return self._now_ms, self._trace.rest() or Ended(why="input closed")
            if line and (heard := self._take(line)) is not None:
                return self._now_ms, heard

    def say(self, spoken: str, at_ms: int) -> None:
        begins = max([at_ms, *(at for at, _ in self._said)])
        self._said.append((begins + speaking_ms(spoken), Said(text=spoken)))

    def _busy(self, holding: bool) -> bool:
        """Whether time has to pass before the next line: always in real time, where the queue is asked in each tick."""
        if self._now_ms >= self._works_until:
            self._go_on()
        if not self._jump:
            return self._typed.empty()
        return bool(self._said) or self._now_ms < self._works_until or holding

    def _go_on(self) -> None:
        try:
            seconds = next(self._work, None)
        except Trouble as trouble:
            self._refused(str(trouble))
            seconds, self._work = None, iter(())
        if seconds is not None:
            self._works_until = self._now_ms + round(1000 * seconds)

    def _line(self) -> str | None:
        line = next(self._lines, None) if self._jump else self._typed.get()
        return line if line is None else line.strip()

    def _take(self, line: str) -> Heard | None:
        if self._jump:
            for _ in range(_TYPING_MS // TICK_MS):
                self._pass()
        work = order(line, self._vehicle)
        if work is not None:
            self._work = work
            self._go_on()
            if is_order(line, self._vehicle) and not self._understood(line):
                return None
        return Heard(text=line, start_ms=self._now_ms, end_ms=self._now_ms, by="typed")

    def _pass(self) -> None:
        """One tick; in real time it lasts as long as it says."""
        self._now_ms += TICK_MS
        if not self._jump:
            time.sleep(max(0.0, self._started + self._now_ms / 1000 - time.monotonic()))
        self._look(self._vehicle, self._vehicle.step(TICK_MS / 1000))
        self._gauges = self._trace.look(self._now_ms, self._vehicle) or self._gauges

    def _read_ahead(self) -> None:
        for line in self._lines:
            self._typed.put(line)
        self._typed.put(None)
