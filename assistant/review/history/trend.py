"""How a reading moves from check to check, and whether it heads for its limit.

Law: one odd reading must not make a trend: the slope is that of Theil and Sen (the median of the slopes between all
pairs of points), and a trend is believed only where the Mann-Kendall test finds one (one-sided, 5 %; ties count as no
evidence). Only checks by the standard of the latest one are compared: margins of two standards are not one line.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from math import sqrt
from statistics import median

from assistant.core.events import Record, TestId
from assistant.review.history.reading import Check, Found

RECENT = 40
"""Checks that a trend is made of at most, so that an old repair does not hide a new leak (own choice)."""
LEAST = 5
AHEAD_DAYS = 30.0
"""A trend that reaches the limit within this time is flagged (own choice: about an interval of service)."""
_ONE_SIDED_5_PERCENT = 1.645
Point = tuple[float, float]


class Trend(Record):
    """One test of one vehicle. `value_a_day`, `margin_a_day`: slopes in `unit` a day. `days_left`: until the margin is
    used up if it goes on like this, from the latest check; None: it does not head for the limit, or too little is known
    to say. `points`: (day, value, margin), oldest first."""

    vehicle: str
    test: TestId
    standard: str
    unit: str
    value_a_day: float
    margin_a_day: float
    days_left: float | None
    points: tuple[tuple[float, float, float], ...]

    @property
    def flagged(self) -> bool:
        """Whether it heads for its limit and will be there soon."""
        return self.days_left is not None and self.days_left <= AHEAD_DAYS


def trends(checks: Iterable[Check]) -> tuple[Trend, ...]:
    """The trends of every vehicle with a number, those that reach the limit first in front. `checks`: oldest first."""
    series: dict[tuple[str, TestId], list[tuple[Check, Found]]] = defaultdict(list)
    for check in checks:
        for found in check.tests:
            if check.fleet_number and found.value is not None and found.margin is not None:
                series[check.fleet_number, found.test].append((check, found))
    made = (_trend(vehicle, test, seen) for (vehicle, test), seen in series.items())
    return tuple(sorted(filter(None, made), key=_urgency))


def sentence(trend: Trend) -> str:
    """What a trend comes to, in words."""
    if trend.days_left is None:
        return "not heading for the limit"
    if trend.days_left < 1:
        return "at its limit, or there within a day"
    return f"reaches its limit in about {trend.days_left:.0f} days if it goes on like this"


def slope(points: Sequence[Point]) -> float:
    """The slope of Theil and Sen: the median over all pairs at different x. Raises ValueError when there is none.

    Sen, "Estimates of the regression coefficient based on Kendall's tau", J. Am. Stat. Assoc. 63 (1968) 1379-1389.
    """
    slopes: list[float] = []
    for at, (x, y) in enumerate(points, start=1):
        slopes += [(later - y) / (then - x) for then, later in points[at:] if then != x]
    if not slopes:
        raise ValueError("there are no two points at different times")
    return median(slopes)


def falls(points: Sequence[Point]) -> bool:
    """Whether y falls over x, by the Mann-Kendall test. `points` in the order of x.

    Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), 16.4, without the correction for ties,
    which would only make it easier to find a trend (formula from memory; the tests compare it with scipy).
    """
    count = len(points)
    balance = sum(
        (later > sooner) - (later < sooner)
        for at, (_, sooner) in enumerate(points, start=1)
        for _, later in points[at:]
    )
    spread = sqrt(count * (count - 1) * (2 * count + 5) / 18)
    return balance < 0 and (balance + 1) / spread < -_ONE_SIDED_5_PERCENT


def _trend(vehicle: str, test: TestId, seen: Sequence[tuple[Check, Found]]) -> Trend | None:
    latest, newest = seen[-1]
    alike = [(check, found) for check, found in seen if _alike(check, found, latest, newest)][-RECENT:]
    points = tuple((check.day, found.value or 0.0, found.margin or 0.0) for check, found in alike)
    if len({day for day, _, _ in points}) < LEAST:
        return None
    margins = [(day, margin) for day, _, margin in points]
    fall = slope(margins)
    heading = fall < 0 and falls(margins)
    level = median(margin - fall * (day - latest.day) for day, margin in margins)
    return Trend(
        vehicle=vehicle,
        test=test,
        standard=latest.standard,
        unit=newest.unit or "",
        value_a_day=slope([(day, value) for day, value, _ in points]),
        margin_a_day=fall,
        days_left=max(0.0, level / -fall) if heading else None,
        points=points,
    )


def _alike(check: Check, found: Found, latest: Check, newest: Found) -> bool:
    return (check.standard, found.limit, found.unit) == (latest.standard, newest.limit, newest.unit)


def _urgency(trend: Trend) -> tuple[float, str, str]:
    return (float("inf") if trend.days_left is None else trend.days_left, trend.vehicle, trend.test)
