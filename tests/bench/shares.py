"""Counts as shares, with 95 % Wilson intervals."""

from __future__ import annotations

from math import sqrt


def share(count: int, of: int) -> str:
    """A share with its counts and its interval."""
    low, high = wilson(count, of)
    return f"{count:4}/{of} {100 * count / max(of, 1):5.1f} % [{100 * low:.1f}-{100 * high:.1f}]"


def wilson(right: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, right / of
    middle = (share + z * z / 2 / of) / (1 + z * z / of)
    half = z * sqrt(share * (1 - share) / of + z * z / 4 / of / of) / (1 + z * z / of)
    return middle - half, middle + half
