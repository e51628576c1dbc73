"""Pressures read at one moment: governor cut-out and cut-in, low-air warning, pop-outs.

Law: what has to work is judged before the figure; a valve or warning that did nothing has failed only when the pressure
was low enough to say so.
"""

from __future__ import annotations

from fractions import Fraction

from assistant.core.events import Line, Reading, Unit
from assistant.core.interval import Bound, Interval, Standing, exact, stand
from assistant.core.limit import Limit
from assistant.core.pressure import Pressure, in_psi
from assistant.core.verdicts.finding import OUTCOME, Case, Finding, line, not_judged, worst

# Half of the lowest ordinary governor setting, 100 psi (common practice, no source): an older vehicle's warning may
# rest on half of a cut-out pressure that nobody has read.
LEAST_HALF_CUT_OUT = Pressure(psi=50, kPa=345)


def judge_pressure(case: Case) -> Finding:
    """A pressure at an event, with nothing else to work."""
    if not case.readings("at"):
        return not_judged("verdict.no-reading")
    return worst([_judge(case, reading) for reading in _deciding(case)])


def judge_pop_out(case: Case) -> Finding:
    """One push-pull valve: it has to pop out, at the right pressure."""
    popped, readings = case.answer("popped"), case.readings("at")
    if popped == "not fitted":
        return not_judged("not-done.not-fitted")
    if case.answer("lines") not in (None, case.limit.lines):
        return not_judged("verdict.other-method")
    if popped == "no":
        return _did_not_pop(case)
    return judge_pressure(case) if readings else not_judged("verdict.no-reading")


def judge_warning(case: Case) -> Finding:
    """Light and buzzer, then the pressure at which they came on. A device that nobody asked about is not judged."""
    light, buzzer = case.answer("light"), case.answer("buzzer")
    if light == "off" and buzzer == "off":
        return _no_warning(case)
    if light == "off" and case.limit.devices == "light":
        return Finding("fail", line("verdict.no-light"))
    found = judge_pressure(case)
    silent = [line(f"note.no-{name}") for name, state in (("light", light), ("buzzer", buzzer)) if state == "off"]
    return Finding(found.outcome, found.reason, found.margin, found.unit, found.needle, (*silent, *found.notes))


def _deciding(case: Case) -> list[Reading]:
    """The readings that the source lets decide; all of them when it doesn't say."""
    readings = list(case.readings("at"))
    if case.limit.needle == "each":
        return readings
    choose = min if case.limit.needle == "lowest" else max
    return [choose(readings, key=in_psi)]


def _judge(case: Case, reading: Reading) -> Finding:
    limit, unit = case.limit, reading.unit
    error = case.standard.gauge_error(exact(reading.value), case.cut_out(unit))
    value = case.interval(reading, "at")
    notes: tuple[Line, ...] = ()
    if error is not None:
        gauge = case.standard.gauge
        if gauge and gauge.applied:
            value = Interval(value.low - error, value.high + error)
        notes = (line("note.gauge-error", error=Reading(value=float(round(error, 1)), unit=unit)),)
    low, high = _low(case, unit), _high(limit, unit)
    standing = stand(value, low, high)
    if low is None and high is None:
        return Finding("not judged", line("verdict.no-figure", at=(reading,)), notes=notes)
    reason = _reason(limit, reading, value, standing, low)
    return Finding(OUTCOME[standing.stands], reason, standing.margin, unit, reading.needle, notes)


def _low(case: Case, unit: Unit) -> Bound | None:
    limit = case.limit
    if limit.at_least is None:
        return None
    printed = limit.at_least.value(unit)
    least = printed
    if limit.clear_fail:
        least = limit.clear_fail.value(unit)
    if limit.half_cut_out:
        cut_out = case.cut_out(unit)
        if cut_out is not None:
            printed = least = min(printed, cut_out / 2)
        else:
            least = min(printed, LEAST_HALF_CUT_OUT.value(unit))
    return Bound(Interval(least, printed))


def _high(limit: Limit, unit: Unit) -> Bound | None:
    if limit.at_most:
        return Bound(Interval.around(limit.at_most.value(unit)))
    if limit.less_than:
        return Bound(Interval.around(limit.less_than.value(unit)), strict=True)
    return None


def _reason(limit: Limit, reading: Reading, value: Interval, standing: Standing, low: Bound | None) -> Line:
    unit, at = reading.unit, (reading,)
    figures = {"low": _shown(low.at.high, unit)} if low else {}
    high = limit.at_most or limit.less_than
    figures |= {"high": high.shown(unit)} if high else {}
    if standing.stands == "inside":
        kind = "within" if low and high else "at-least" if low else "at-most" if limit.at_most else "less-than"
        return line(f"verdict.{kind}", at=at, **figures)
    if standing.stands == "below":
        return line("verdict.below", at=at, low=figures["low"])
    if standing.stands == "above":
        return line("verdict.above" if limit.at_most else "verdict.less-than", at=at, high=figures["high"])
    if standing.stands == "unclear below" and value.sharp:
        return line("verdict.needs-cut-out" if limit.half_cut_out else "verdict.about", at=at, low=figures["low"])
    near = figures["low"] if standing.stands == "unclear below" else figures["high"]
    return line("verdict.too-coarse", at=at, limit=near)


def _shown(value: Fraction, unit: Unit) -> Reading:
    return Reading(value=float(round(value, 1)), unit=unit)


def _no_warning(case: Case) -> Finding:
    """Neither light nor buzzer: a failure, unless the pressure was not yet low enough for that."""
    if not case.readings("at"):
        return Finding("fail", line("verdict.no-warning"))
    reading = min(case.readings("at"), key=in_psi)
    low = _low(case, reading.unit) or Bound(Interval.around(LEAST_HALF_CUT_OUT.value(reading.unit)))
    if stand(case.interval(reading, "at"), low, None).stands != "below":
        return not_judged("verdict.no-warning-yet", at=(reading,))
    return Finding("fail", line("verdict.no-warning-at", at=(reading,)), needle=reading.needle)


def _did_not_pop(case: Case) -> Finding:
    """It stayed in: a failure, unless the source allows that or the pressure was not yet low enough."""
    if case.limit.may_not_pop:
        return not_judged("verdict.may-not-pop")
    if not case.readings("at"):
        return Finding("fail", line("verdict.did-not-pop"))
    reading = max(case.readings("at"), key=in_psi)
    low = _low(case, reading.unit)
    if low and stand(case.interval(reading, "at"), low, None).stands != "below":
        return not_judged("verdict.not-popped-yet", at=(reading,))
    return Finding("fail", line("verdict.did-not-pop"), needle=reading.needle)
