"""What is freed goes back to the system, where the C library is glibc: others do as they do.

Each utterance takes some megabytes while it is decoded, in pieces of all sizes. By default glibc keeps them for each
thread apart, and a check of twenty minutes keeps growing.
"""

from __future__ import annotations

import ctypes
import sys

_TRIM_THRESHOLD, _ARENA_MAX = -1, -8  # of mallopt(3)
KEPT_BYTES = 64 * 1024
"""Of free memory at the end of a heap; setting it also stops glibc from keeping ever larger blocks."""
HEAPS = 2


def give_back() -> None:
    """From now on. Does nothing on other systems."""
    if not sys.platform.startswith("linux"):
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(_TRIM_THRESHOLD, KEPT_BYTES)
        mallopt(_ARENA_MAX, HEAPS)
