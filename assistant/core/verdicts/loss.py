"""Pressure lost in a hold: static and applied leakage.

Law: a hold shorter than the standard's says nothing, and is never scaled up. The driver reads when time is called and
speaks a little later, so a hold that is up to LATE_SECONDS longer counts as it is. A still longer one is per minute
only where the source states a rate. Elsewhere a loss within the limit is a pass, since less time can't lose more; a
loss over it fails only if even an equal share for each minute is over it (a leak slows down as the pressure falls, so
the first minute never loses less than its share); in between, the hold has to be repeated.
"""

from __future__ import annotations

from fractions import Fraction

from assistant.core.events import Reading
from assistant.core.interval import Bound, Interval, Standing, exact, stand
from assistant.core.plausible import same_needle
from assistant.core.pressure import convert
from assistant.core.verdicts.finding import OUTCOME, Case, Finding, line, not_judged, worst

LATE_SECONDS = 15


def judge_loss(case: Case) -> Finding:
    first, last, seconds = case.readings("first"), case.readings("last"), case.observation.seconds
    if not first or not last:
        return not_judged("verdict.no-reading")
    if seconds is None:
        return not_judged("verdict.no-time")
    start_too_low = _started_too_low(case)
    if start_too_low is not None:
        return start_too_low
    return worst([_judge_needle(case, reading, exact(seconds)) for reading in first])


def _started_too_low(case: Case) -> Finding | None:
    for reading in case.readings("first"):
        least = case.standard.leaking.pressure.value(reading.unit) if case.standard.leaking else Fraction(0)
        if exact(reading.value) < least:
            needed = case.standard.before_leakage(reading.unit)
            return not_judged("verdict.start-too-low", at=(reading,), low=needed)
    return None


def _judge_needle(case: Case, first: Reading, seconds: Fraction) -> Finding:
    last = same_needle(first, case.readings("last"))
    if last is None:
        return not_judged("verdict.no-last-reading")
    unit = first.unit
    end = case.interval(last, "last").times(convert(Fraction(1), last.unit, unit))
    loss = case.interval(first, "first").minus(end)
    shown = Reading(value=float(round(loss.middle, 2)), unit=unit, needle=first.needle)
    if loss.high < 0:
        return not_judged("verdict.rose", rise=(shown.model_copy(update={"value": -shown.value}),))
    if seconds < case.limit.hold:
        return _too_short(case, loss, shown, seconds)
    high = case.limit.at_most or case.limit.less_than
    if high is None:
        return not_judged("verdict.no-figure-for-loss", loss=(shown,))
    rated = loss.times(60 / seconds) if case.limit.per_minute else loss
    if case.limit.per_minute:
        shown = shown.model_copy(update={"value": float(round(rated.middle, 2))})
    standing = _stand(case, rated, first)
    late = seconds > case.limit.hold + LATE_SECONDS and not case.limit.per_minute
    if late and standing.stands != "inside":
        share = _stand(case, loss.times(case.limit.hold / seconds), first)
        if share.stands != "above":
            values = {"seconds": float(seconds), "hold": case.limit.hold}
            return not_judged("verdict.hold-too-long", loss=(shown,), **values)
        standing = share
    return _finding(case, standing, shown)


def _stand(case: Case, loss: Interval, first: Reading) -> Standing:
    limit = case.limit
    high = limit.at_most or limit.less_than
    assert high is not None
    return stand(loss, None, Bound(Interval.around(high.value(first.unit)), strict=limit.at_most is None))


def _finding(case: Case, standing: Standing, shown: Reading) -> Finding:
    limit = case.limit.at_most or case.limit.less_than
    assert limit is not None
    if standing.stands == "unclear above":
        prompt = "verdict.loss-too-coarse"
    elif case.limit.at_most is None:
        prompt = "verdict.loss-less-than"
    else:
        prompt = "verdict.loss-within" if standing.stands == "inside" else "verdict.loss-over"
    reason = line(prompt, loss=(shown,), limit=limit.shown(shown.unit))
    return Finding(OUTCOME[standing.stands], reason, standing.margin, shown.unit, shown.needle)


def _too_short(case: Case, loss: Interval, shown: Reading, seconds: Fraction) -> Finding:
    values = {"seconds": float(seconds), "hold": case.limit.hold}
    over = (case.limit.at_most or case.limit.less_than) and _stand(case, loss, shown).stands == "above"
    if over:
        return not_judged("verdict.hold-short-and-over", loss=(shown,), **values)
    return not_judged("verdict.hold-too-short", **values)
