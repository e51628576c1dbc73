"""The rehearsal of a person at the keyboard: typed lines are what the trainee says.

Law: the vehicle's time is the time of the check; with `jump` it goes on only by what is said and waited for.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Iterable

from assistant.cab.practice import TICK_MS, Practice
from assistant.core.events import Ended, Event, Gauges, Heard, Said
from assistant.mouth.console import speaking_ms

_TYPING_MS = 2000  # what a line takes on a clock that jumps


class TraineeCab:
    """`lines`: what is typed, without line ends."""

    def __init__(self, practice: Practice, lines: Iterable[str], *, jump: bool) -> None:
        self._practice = practice
        self._jump = jump
        self._gauges: Gauges | None = None
        self._started = time.monotonic()
        self._said: list[tuple[int, Said]] = []
        self._lines = iter(lines)
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        if not jump:
            threading.Thread(target=self._read_ahead, daemon=True).start()

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        while True:
            now = self._practice.now_ms
            if self._gauges is not None:
                kept, self._gauges = self._gauges, None
                return now, kept
            if self._said and self._said[0][0] <= now:
                return now, self._said.pop(0)[1]
            if until_ms is not None and until_ms <= now:
                return None
            if self._busy(holding):
                self._pass()
                continue
            line = self._line()
            if line is None:
                return now, self._practice.rest() or Ended(why="input closed")
            if line and (heard := self._take(line)) is not None:
                return heard.end_ms, heard

    def say(self, spoken: str, at_ms: int) -> None:
        begins = max([at_ms, *(at for at, _ in self._said)])
        self._said.append((begins + speaking_ms(spoken), Said(text=spoken)))

    def _busy(self, holding: bool) -> bool:
        """Whether time has to pass before the next line: always in real time, where the queue is asked in each tick."""
        if not self._jump:
            return self._typed.empty()
        return bool(self._said) or self._practice.working or holding

    def _line(self) -> str | None:
        line = next(self._lines, None) if self._jump else self._typed.get()
        return line if line is None else line.strip()

    def _take(self, line: str) -> Heard | None:
        if self._jump:
            for _ in range(_TYPING_MS // TICK_MS):
                self._pass()
        if not self._practice.take(line):
            return None
        now = self._practice.now_ms
        return Heard(text=line, start_ms=now, end_ms=now, by="typed")

    def _pass(self) -> None:
        """One tick; in real time it lasts as long as it says."""
        gauges = self._practice.tick()
        if not self._jump:
            time.sleep(max(0.0, self._started + self._practice.now_ms / 1000 - time.monotonic()))
        self._gauges = gauges or self._gauges

    def _read_ahead(self) -> None:
        for line in self._lines:
            self._typed.put(line)
        self._typed.put(None)
