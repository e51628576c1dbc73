"""The clock of a live check: milliseconds since it began, and whether the machine slept meanwhile.

Law: time runs on time.monotonic(), the clock that the sound card's blocks are stamped with. A sleep is noticed by what
other clocks did in the same stretch, because none of them tells of it by itself on every system.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

BOOT_AHEAD_S = 0.1
WALL_AHEAD_S = 1.0  # a wall clock that is set while the machine is awake moves by less, as a rule
FROZEN_S = 2.0  # on a system whose clocks all run on in a sleep, nobody looked for so long

Seconds = Callable[[], float]


@dataclass(frozen=True)
class Clocks:
    """Where time is read, in seconds. `boot`: goes on while the machine sleeps, where there is such a clock."""

    monotonic: Seconds
    boot: Seconds
    wall: Seconds = time.time


class CheckClock:
    """`from_ms`: the time of the check at which it is started."""

    def __init__(self, clocks: Clocks) -> None:
        self._clocks = clocks
        self._zero = clocks.monotonic()
        self._looked = self._read()

    def start(self, from_ms: int) -> None:
        """It is now `from_ms` into the check."""
        self._zero = self._clocks.monotonic() - from_ms / 1000
        self._looked = self._read()

    def now_ms(self) -> int:
        return self.ms(self._clocks.monotonic())

    def ms(self, moment: float) -> int:
        """A moment of time.monotonic() as ms of the check."""
        return round((moment - self._zero) * 1000)

    def seconds_until(self, at_ms: int) -> float:
        return self._zero + at_ms / 1000 - self._clocks.monotonic()

    def slept_s(self) -> float:
        """How long the machine was not awake, or its clock jumped ahead, since this was asked last; 0.0: not at all.

        To be asked several times a second: a longer silence counts as sleep.
        """
        before, self._looked = self._looked, self._read()
        awake, boot, wall = (now - then for now, then in zip(self._looked, before, strict=True))
        if boot - awake > BOOT_AHEAD_S:
            return boot - awake
        if abs(wall - awake) > WALL_AHEAD_S:
            return abs(wall - awake)
        return awake if awake > FROZEN_S else 0.0

    def _read(self) -> tuple[float, float, float]:
        return self._clocks.monotonic(), self._clocks.boot(), self._clocks.wall()
