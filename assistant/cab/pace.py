"""How fast a recording is followed: as it was, shortened so that a person can follow, or at once."""

from __future__ import annotations

import time
from typing import Literal

PaceName = Literal["real time", "shortened", "fast"]

# A shortened check keeps short pauses and cuts longer ones: to what it takes to read a caption, or, where lines are
# spoken as well, to a breath.
READING_MS = 900
BREATH_MS = 250
_SKIP_SHOWN_MS = 15_000


class Pace:
    """Waits on the wall clock while the check's clock goes on. `longest_ms`: of a wait in a shortened check."""

    def __init__(self, name: PaceName, longest_ms: int = READING_MS) -> None:
        self.name = name
        self._longest_ms = longest_ms
        self._at_ms = 0
        self._wall = time.monotonic()

    def reach(self, at_ms: int) -> int:
        """Wait as this pace says until the check's clock is at `at_ms`; ms of the check that were skipped, if long."""
        gap = at_ms - self._at_ms
        if gap <= 0:
            return 0
        self._at_ms = at_ms
        wait = {"real time": gap, "shortened": min(gap, self._longest_ms), "fast": 0}[self.name]
        self._wall += wait / 1000
        time.sleep(max(0.0, self._wall - time.monotonic()))
        if self.name != "real time":  # what took longer than planned is not made up for
            self._wall = time.monotonic()
        return gap - wait if self.name == "shortened" and gap >= _SKIP_SHOWN_MS else 0
