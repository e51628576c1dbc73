"""Readings to be asked again because they can hardly be right, and what can't be judged because it is impossible.

Law: the limits play no part here, so that doubt never leans towards a pass. The ranges are wide and common practice, no
source, unless one is named; a driver who repeats an odd reading is believed, an impossible one is never a pass.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assistant.core.events import Line, Observation, Reading, TestId, Value, Vehicle
from assistant.core.interval import exact
from assistant.core.pressure import Pressure, convert, in_psi
from assistant.core.standard import Standard

# Where the safety valve opens (California Vehicle Code 26503: at 150 psi or below), and the end of a usual dial.
HIGHEST = Pressure(psi=150, kPa=1035)
# A governor that never cuts out has to be judged, not doubted; above this no dial of the trade goes on.
HIGHEST_CUT_OUT = Pressure(psi=200, kPa=1380)
# No hold and no rise of this check goes on for half an hour (common practice, no source): a clock was not stopped.
LONGEST_SECONDS = 1800
NEEDLES_APART = Pressure(psi=30, kPa=207)
LARGE_LOSS = Pressure(psi=25, kPa=172)

_USUAL: dict[tuple[TestId, str], tuple[Pressure, Pressure]] = {
    ("governor-cut-out", "at"): (Pressure(psi=90, kPa=620), HIGHEST),
    ("governor-cut-in", "at"): (Pressure(psi=60, kPa=414), HIGHEST),
    ("static-leakage", "first"): (Pressure(psi=60, kPa=414), HIGHEST),
    ("applied-leakage", "first"): (Pressure(psi=60, kPa=414), HIGHEST),
    ("low-air-warning", "at"): (Pressure(psi=30, kPa=207), Pressure(psi=100, kPa=690)),
    ("trailer-supply-pop-out", "at"): (Pressure(psi=5, kPa=34), Pressure(psi=80, kPa=552)),
    ("parking-valve-pop-out", "at"): (Pressure(psi=5, kPa=34), Pressure(psi=80, kPa=552)),
}


def odd(
    test: TestId,
    slot: str,
    reading: Reading,
    observation: Observation,
    earlier: Mapping[TestId, Observation],
    standard: Standard,
    vehicle: Vehicle,
) -> Line | None:
    """Why `reading` should be asked again; None when nothing speaks against it.

    `observation`: what the open test has gathered, with or without `reading`. `standard` has no say (see the law).
    """
    del standard
    checks = (
        _beyond_gauge(reading),
        _against_earlier(test, reading, earlier),
        _against_first(slot, reading, observation, vehicle),
        _beside_other_needle(slot, reading, observation),
        _unusual(test, slot, reading),
    )
    return next((line for line in checks if line), None)


def impossible(observation: Observation, earlier: Mapping[TestId, Observation]) -> Line | None:
    """Why the readings of a test can't be judged at all; None when they can."""
    highest = HIGHEST_CUT_OUT if observation.test == "governor-cut-out" else HIGHEST
    for readings in observation.readings.values():
        for reading in readings:
            if not 0 <= exact(reading.value) <= highest.value(reading.unit):
                return _line("verdict.not-possible", at=(reading,))
    if observation.seconds is not None and observation.seconds > LONGEST_SECONDS:
        return _line("verdict.time-not-possible")
    at = observation.readings.get("at", ())
    if observation.test == "governor-cut-in":
        return _if_above("verdict.above-cut-out", at, _at(earlier, "governor-cut-out"))
    if observation.test == "governor-cut-out":
        return _if_above("verdict.below-cut-in", _at(earlier, "governor-cut-in"), at)
    if observation.test == "low-air-warning":
        return _if_above("verdict.warning-above-cut-in", at, _at(earlier, "governor-cut-in"))
    return None


def _line(prompt: str, **values: Value) -> Line:
    return Line(prompt=prompt, values=values)


def _at(earlier: Mapping[TestId, Observation], test: TestId) -> tuple[Reading, ...]:
    return earlier[test].readings.get("at", ()) if test in earlier else ()


def _if_above(prompt: str, lower: Iterable[Reading], upper: Iterable[Reading]) -> Line | None:
    """`prompt` when the lowest reading of what should be lower is above the highest of what should be higher."""
    low = min(lower, key=in_psi, default=None)
    high = max(upper, key=in_psi, default=None)
    if low is None or high is None or in_psi(low) <= in_psi(high):
        return None
    return _line(prompt, low=(low,), high=(high,))


def _beyond_gauge(reading: Reading) -> Line | None:
    if exact(reading.value) > HIGHEST.value(reading.unit):
        return _line("odd.above-gauge", reading=reading, highest=HIGHEST.shown(reading.unit))
    return _line("odd.below-zero", reading=reading) if reading.value < 0 else None


def _against_earlier(test: TestId, reading: Reading, earlier: Mapping[TestId, Observation]) -> Line | None:
    """The pressures of one vehicle have an order: cut-out, cut-in, warning, pop-outs."""
    above: dict[TestId, TestId] = {"governor-cut-in": "governor-cut-out", "low-air-warning": "governor-cut-in"}
    above |= {"trailer-supply-pop-out": "low-air-warning", "parking-valve-pop-out": "low-air-warning"}
    if test in above:
        other = max(_at(earlier, above[test]), key=in_psi, default=None)
        if other and in_psi(reading) >= in_psi(other):
            return _line(f"odd.not-below-{above[test]}", reading=reading, other=other)
    other = min(_at(earlier, "governor-cut-in"), key=in_psi, default=None) if test == "governor-cut-out" else None
    if other and in_psi(reading) <= in_psi(other):
        return _line("odd.not-above-governor-cut-in", reading=reading, other=other)
    return None


def _against_first(slot: str, reading: Reading, observation: Observation, vehicle: Vehicle) -> Line | None:
    """A hold only loses, a rise only gains; what is less than a mark of the gauge is not seen as a change."""
    start = {"last": "first", "to": "from"}.get(slot)
    first = same_needle(reading, observation.readings.get(start, ())) if start else None
    if first is None:
        return None
    change = in_psi(reading) - in_psi(first)
    mark = convert(exact(vehicle.gauge_mark or 0), reading.unit, "psi")
    if slot == "last" and change > mark:
        return _line("odd.rose", reading=reading, other=first)
    if slot == "last" and -change > LARGE_LOSS.value("psi"):
        return _line("odd.lost-much", reading=reading, other=first)
    if slot == "to" and change <= 0:
        return _line("odd.did-not-rise", reading=reading, other=first)
    return None


def same_needle(reading: Reading, others: tuple[Reading, ...]) -> Reading | None:
    """The reading of the same needle; the only one, if one of the two names no needle."""
    same = [other for other in others if other.needle == reading.needle]
    if same:
        return same[-1]
    return others[0] if len(others) == 1 and None in (reading.needle, others[0].needle) else None


def _beside_other_needle(slot: str, reading: Reading, observation: Observation) -> Line | None:
    for other in observation.readings.get(slot, ()):
        apart = abs(in_psi(reading) - in_psi(other))
        if other.needle != reading.needle and apart > NEEDLES_APART.value("psi"):
            return _line("odd.needles-apart", readings=(other, reading))
    return None


def _unusual(test: TestId, slot: str, reading: Reading) -> Line | None:
    if (test, slot) not in _USUAL:
        return None
    low, high = _USUAL[test, slot]
    usual = low.value(reading.unit) <= exact(reading.value) <= high.value(reading.unit)
    return None if usual else _line("odd.unusual", reading=reading, test=test)
