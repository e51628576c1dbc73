"""The check from the keyboard: typed lines are what is heard, captions are what is said.

Law: the same reducer, the same log. With `jump` the clock jumps: a timed hold is over at once and nobody is hurried,
for practice and for tests.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterable

from assistant.core.events import Ended, Event, Heard, Said

_TYPING_MS = 2000  # what a typed line takes on a clock that jumps


class TypedCab:
    """`lines`: what is typed, line by line, without the line end. `speaking_ms` as for a recording."""

    def __init__(
        self,
        lines: Iterable[str],
        *,
        jump: bool = False,
        speaking_ms: Callable[[str], int],
        from_ms: int = 0,
    ) -> None:
        self._jump = jump
        self._speaking_ms = speaking_ms
        self._now_ms = from_ms
        self._started = time.monotonic() - from_ms / 1000
        self._said: list[Said] = []
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._lines = iter(lines)
        if not jump:
            threading.Thread(target=self._read_ahead, daemon=True).start()

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        if self._said:
            return self._time(), self._said.pop(0)
        if self._jump and holding and until_ms is not None:
            self._now_ms = max(self._now_ms, until_ms)
            return None
        try:
            line = self._line(until_ms)
        except queue.Empty:
            return None
        if line is None:
            return self._time(), Ended(why="input closed")
        self._now_ms += _TYPING_MS if self._jump else 0
        now = self._time()
        text = line.encode("utf-8", "replace").decode()  # half a character from a terminal is no text
        return now, Heard(text=text, start_ms=now, end_ms=now, by="typed")

    def say(self, spoken: str, at_ms: int) -> None:
        self._now_ms = max(self._now_ms, at_ms + self._speaking_ms(spoken))
        self._said.append(Said(text=spoken))

    def _line(self, until_ms: int | None) -> str | None:
        if self._jump:
            return next(self._lines, None)
        left = None if until_ms is None else max(0.0, (until_ms - self._time()) / 1000)
        return self._typed.get(timeout=left)

    def _read_ahead(self) -> None:
        for line in self._lines:
            self._typed.put(line)
        self._typed.put(None)

    def _time(self) -> int:
        return self._now_ms if self._jump else round((time.monotonic() - self._started) * 1000)
