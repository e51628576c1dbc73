"""A cab without a truck: the dialogue talks to a simulated driver who works the simulated vehicle, in virtual time.

Law: the one clock is that of the vehicle; it goes on in ticks and waits for nobody. The dialogue gets its events
through the same door as in a real cab, and neither side knows more of the other than what is said.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count
from typing import Protocol

from assistant.cab.gauges import GaugeTrace
from assistant.core.events import Effect, Ended, Event, Gauges, Heard, Line, Said, Say
from assistant.mouth.console import speaking_ms
from assistant.vehicle.cab import Happening
from assistant.vehicle.spoken import Spoken
from assistant.vehicle.vehicle import Vehicle

TICK_MS = 100
LONGEST_MS = 6 * 3600 * 1000
"""A check that is not over by then never will be."""
SILENCE_MS = 30 * 60 * 1000
"""Nor one in which nothing was heard or said for so long: no tank takes that long to fill."""


class Ears(Protocol):
    """What takes the driver's words in."""

    def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
        """`text`, begun at `at_ms`: when it is over, and what is delivered when (ms of the check)."""


class Hands(Protocol):
    """Who works the vehicle and talks: a driver who answers, or a trainee who recites."""

    def notice(self, heard: tuple[Happening, ...]) -> None:
        """What could be heard and seen while time passed."""

    def hear(self, lines: tuple[Line, ...]) -> None:
        """What was said in the cab has just ended."""

    def speak(self, now_ms: int) -> Spoken | None:
        """The next thing to say, if it is time for it."""


class TypedEars:
    """The words go in as they are, when they have been said."""

    def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
        end = at_ms + speaking_ms(text)
        return end, [(end, Heard(text=text, start_ms=at_ms, end_ms=end, by="typed"))]


class RehearsalCab:
    """One driver in one vehicle. `seen`: called after each tick with the vehicle's time, for who looks on.

    `watch` has to be told everything that the session watches: that is how the driver gets to hear what is said.
    `spoken`: every utterance, with the ms at which it began.
    """

    def __init__(
        self, vehicle: Vehicle, driver: Hands, ears: Ears, seen: Callable[[Vehicle], None] | None = None
    ) -> None:
        self._vehicle = vehicle
        self._driver = driver
        self._ears = ears
        self._seen = seen
        self._trace = GaugeTrace()
        self._now_ms = self._last_ms = 0
        self._order = count()
        self._coming: list[tuple[int, int, Event]] = []
        self._lines: tuple[Line, ...] = ()
        self._heard: dict[int, tuple[Line, ...]] = {}
        self._mouths_until = 0
        self.spoken: list[tuple[int, Spoken]] = []

    def watch(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
        """Keep the lines of what is about to be said."""
        del at_ms, event
        self._lines = tuple(line for effect in effects if isinstance(effect, Say) for line in effect.lines)

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        del holding
        while True:
            first = self._coming[0][0] if self._coming else None
            due = min((at for at in (first, until_ms) if at is not None), default=None)
            if due is not None and due <= self._now_ms:
                return None if due != first else self._arrive()
            if self._now_ms >= min(LONGEST_MS, self._last_ms + SILENCE_MS):
                return self._now_ms, self._trace.rest() or Ended(why="input closed")
            self._pass()

    def say(self, spoken: str, at_ms: int) -> None:
        end = max(at_ms, self._mouths_until) + speaking_ms(spoken)
        self._mouths_until = end
        self._post(end, Said(text=spoken))

    def _arrive(self) -> tuple[int, Event]:
        at_ms, order, event = heapq.heappop(self._coming)
        if not isinstance(event, Gauges):
            self._last_ms = at_ms
        if isinstance(event, Said):
            self._driver.hear(self._heard.pop(order))
        return at_ms, event

    def _post(self, at_ms: int, event: Event) -> None:
        order = next(self._order)
        if isinstance(event, Said):
            self._heard[order] = self._lines
        heapq.heappush(self._coming, (at_ms, order, event))

    def _pass(self) -> None:
        """One tick; the driver speaks only while nobody else does."""
        if self._now_ms >= self._mouths_until:
            self._let_driver_speak()
        self._now_ms += TICK_MS
        self._driver.notice(self._vehicle.step(TICK_MS / 1000))
        kept = self._trace.look(self._now_ms, self._vehicle)
        if kept is not None:
            self._post(self._now_ms, kept)
        if self._seen is not None:
            self._seen(self._vehicle)

    def _let_driver_speak(self) -> None:
        spoken = self._driver.speak(self._now_ms)
        if spoken is None:
            return
        self.spoken.append((self._now_ms, spoken))
        self._mouths_until, heard = self._ears.hear(spoken.text, self._now_ms)
        for at_ms, event in heard:
            self._post(at_ms, event)
