"""Exact arithmetic for judging: intervals of fractions, and where a value stands against a bound.

Law: a pass or a fail is given only when the whole interval that the value may lie in agrees (guarded acceptance and
guarded rejection of JCGM 106:2012, 8.3, with the guard band as wide as the interval's half-width); else it is unclear.
Decimal readings stay exact, so a reading on the limit is judged by the comparison and not by a rounding error.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

Stands = Literal["inside", "below", "above", "unclear below", "unclear above"]


@lru_cache(maxsize=4096)
def exact(value: float) -> Fraction:
    """The decimal number that was written or spoken, not the nearest binary one."""
    return Fraction(str(value))


@dataclass(frozen=True)
class Interval:
    """All values from `low` to `high`, both included."""

    low: Fraction
    high: Fraction

    @staticmethod
    def around(middle: Fraction, half: Fraction = Fraction(0)) -> Interval:
        return Interval(middle - half, middle + half) if half else Interval(middle, middle)

    @property
    def middle(self) -> Fraction:
        return (self.low + self.high) / 2

    @property
    def sharp(self) -> bool:
        return self.low == self.high

    def minus(self, other: Interval) -> Interval:
        """Every difference that the two intervals allow."""
        return Interval(self.low - other.high, self.high - other.low)

    def times(self, factor: Fraction) -> Interval:
        """`factor` is positive."""
        return Interval(self.low * factor, self.high * factor)


@dataclass(frozen=True)
class Bound:
    """One side of a limit. `at` is an interval where the limit itself is only known to lie in one. `strict`: a value
    exactly on the bound is outside."""

    at: Interval
    strict: bool = False


@dataclass(frozen=True)
class Standing:
    """`margin`: distance to the nearer bound, positive inside, in the unit of the value; None without a bound."""

    stands: Stands
    margin: Fraction | None


def stand(value: Interval, low: Bound | None, high: Bound | None) -> Standing:
    """Where `value` stands; a clear violation of either bound comes before a doubt about the other."""
    below = "inside" if low is None else _side(low.at.minus(value), low.strict)
    above = "inside" if high is None else _side(value.minus(high.at), high.strict)
    stands: Stands = "inside"
    if below == "outside":
        stands = "below"
    elif above == "outside":
        stands = "above"
    elif below == "unclear":
        stands = "unclear below"
    elif above == "unclear":
        stands = "unclear above"
    margins = [value.middle - low.at.high] if low else []
    margins += [high.at.low - value.middle] if high else []
    return Standing(stands, min(margins, default=None))


def _side(excess: Interval, strict: bool) -> Literal["inside", "outside", "unclear"]:
    """`excess`: by how much the value is beyond the bound."""
    if excess.high < 0 or (excess.high == 0 and not strict):
        return "inside"
    if excess.low > 0 or (excess.low == 0 and strict):
        return "outside"
    return "unclear"
