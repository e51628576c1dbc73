"""The time that pressure takes to rise between two marks: build-up.

Law: a time counts only with its span of pressure. Over a wider span than the standard's a time that is short enough is
a pass, over a narrower one a time that is too long is a failure; the other way round nothing is known.
"""

from __future__ import annotations

from fractions import Fraction

from assistant.core.events import Reading
from assistant.core.interval import Bound, Interval, Stands, exact, stand
from assistant.core.limit import Limit
from assistant.core.pressure import Pressure, in_psi
from assistant.core.standard import required_tank_volume
from assistant.core.verdicts.finding import OUTCOME, Case, Finding, line, not_judged

# Marks that are the same one though printed or read a little differently (85 psi is printed as 586 and 587 kPa).
SAME_MARK = Pressure(psi=0.5, kPa=3.4)
# Without the tank volumes the rule of 49 CFR 571.121 S5.1.1 has no upper end: no time is long enough to fail for sure.
_UNKNOWN_VOLUME = Fraction(10**6)


def judge_rise(case: Case) -> Finding:
    seconds, limit = case.observation.seconds, case.limit
    if seconds is None or seconds <= 0:
        return not_judged("verdict.no-time")
    printed = limit.seconds_at_most or limit.seconds_less_than
    if not (limit.rise_from and limit.rise_to and printed):
        return not_judged("verdict.no-figure-for-time", seconds=seconds)
    starts, ends = case.readings("from"), case.readings("to")
    if any(in_psi(end) <= in_psi(start) for start in starts for end in ends):
        return not_judged("verdict.did-not-rise")
    wider = [_wider(limit, reading, "from") for reading in starts] + [_wider(limit, reading, "to") for reading in ends]
    bound = _bound(case, exact(printed))
    standing = stand(Interval.around(exact(seconds)), None, bound)
    if not _known(wider, standing.stands):
        unit = (*starts, *ends)[0].unit
        return not_judged("verdict.other-span", start=limit.rise_from.mark(unit), end=limit.rise_to.mark(unit))
    notes = (line("note.larger-tanks"),) if limit.larger_tanks == "maker" and standing.stands == "above" else ()
    if standing.stands == "unclear above":
        reason = line("verdict.needs-tank-volume", seconds=seconds, limit=printed)
    else:
        word = "less-than" if limit.seconds_at_most is None else "within" if standing.stands == "inside" else "over"
        reason = line(f"verdict.time-{word}", seconds=seconds, limit=float(round(bound.at.low, 2)))
    return Finding(OUTCOME[standing.stands], reason, standing.margin, "s", None, notes)


def _bound(case: Case, printed: Fraction) -> Bound:
    """The longest time allowed. The federal rule makes it longer in proportion to the tanks."""
    at = Interval.around(printed)
    if case.limit.larger_tanks == "rule":
        at = Interval(printed, _UNKNOWN_VOLUME)
        vehicle = case.vehicle
        if vehicle.tank_volume and vehicle.chamber_volume:
            at = Interval.around(printed * exact(vehicle.tank_volume) / required_tank_volume(vehicle.chamber_volume))
    return Bound(at, strict=case.limit.seconds_at_most is None)


def _wider(limit: Limit, reading: Reading, end: str) -> int:
    """1: the reading makes the span wider than the standard's, -1: narrower, 0: the same mark."""
    mark = limit.rise_from if end == "from" else limit.rise_to
    assert mark is not None
    beyond = exact(reading.value) - mark.value(reading.unit)
    if abs(beyond) <= SAME_MARK.value(reading.unit):
        return 0
    return 1 if (beyond > 0) == (end == "to") else -1


def _known(wider: list[int], stands: Stands) -> bool:
    if stands == "inside":
        return min(wider, default=0) >= 0
    return max(wider, default=0) <= 0 and (stands == "above" or not any(wider))
