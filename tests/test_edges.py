"""Every limit that is shipped at its edge, generated, and what may never turn into a pass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from observed import NEW, STANDARDS, answered, at, judged, lost, rise, vehicle

from assistant.core.evaluator import evaluate
from assistant.core.events import Observation, Unit, Vehicle, VehicleClass
from assistant.core.limit import Built, Limit
from assistant.core.standard import Standard

CLASSES: tuple[VehicleClass, ...] = get_args(VehicleClass)
DATES: tuple[Built, ...] = get_args(Built)


# --- every limit of every standard, at its edge and one step to either side -------------------------------------------


def every_limit() -> Iterator[tuple[Standard, Limit, Vehicle]]:
    """Each limit that is shipped, once, with a vehicle that it is for."""
    for standard in STANDARDS.values():
        for limit in standard.limits:
            about = Vehicle(
                vehicle_class="combination" if "combination" in (limit.vehicles or CLASSES) else limit.vehicles[0],
                built=(limit.built or (NEW,))[-1],
            )
            yield standard, limit, about


def edges() -> Iterator[object]:
    """(standard, limit, vehicle, unit, value, expected): on the limit, and one step inside and outside."""
    for standard, limit, about in every_limit():
        name = f"{standard.id}/{limit.test}/{about.vehicle_class}/{about.built}"
        for unit in ("psi", "kPa"):
            for figure, side, strict in (
                (limit.at_least, 1, False),
                (limit.at_most, -1, False),
                (limit.less_than, -1, True),
            ):
                printed = figure.printed(unit) if figure else None
                if printed is None:
                    continue
                outside = "not judged" if (limit.clear_fail or limit.half_cut_out) and side == 1 else "fail"
                steps = ((0, outside if strict else "pass"), (side, "pass"), (-side, outside))
                for step, expected in steps:
                    label = f"{name}/{printed}{unit}{step:+}"
                    yield pytest.param(standard, limit, about, unit, printed + step * 0.5, expected, id=label)


@pytest.mark.parametrize(("standard", "limit", "about", "unit", "value", "expected"), list(edges()))
def test_a_figure_is_exact_on_the_limit_and_one_step_to_either_side(
    standard: Standard, limit: Limit, about: Vehicle, unit: Unit, value: float, expected: str
) -> None:
    observation = lost(limit.test, value, unit=unit) if limit.quantity == "loss" else at(limit.test, value, unit)
    verdict = evaluate(observation, standard, about, {})
    assert verdict.outcome == expected
    assert verdict.limit == limit.text()
    assert verdict.source == limit.cited()
    assert verdict.consequence == (limit.consequence if expected == "fail" else None)


def times() -> Iterator[object]:
    for standard, limit, about in every_limit():
        seconds = limit.seconds_at_most or limit.seconds_less_than
        if seconds and limit.rise_from and limit.rise_to:
            late = "not judged" if limit.larger_tanks == "rule" else "fail"
            on = "pass" if limit.seconds_at_most else late
            for step, expected in ((0, on), (-0.5, "pass"), (0.5, late)):
                label = f"{standard.id}/{seconds}{step:+}"
                yield pytest.param(standard, limit, about, seconds + step, expected, id=label)


@pytest.mark.parametrize(("standard", "limit", "about", "seconds", "expected"), list(times()))
def test_a_time_is_exact_on_the_limit_and_one_step_to_either_side(standard, limit, about, seconds, expected) -> None:
    for unit in ("psi", "kPa"):
        start, end = limit.rise_from.mark(unit).value, limit.rise_to.mark(unit).value
        assert evaluate(rise(start, end, seconds, unit), standard, about, {}).outcome == expected
    # without readings the standard's own span is meant
    assert evaluate(Observation(test="build-up", seconds=seconds), standard, about, {}).outcome == expected


ANSWERS = {
    "parking-brake": ("held", "held", "moved"),
    "trailer-brake": ("held", "held", "moved"),
    "hand-valve": ("felt", "yes", "no"),
    "service-brake": ("pull", "straight", "left"),
}


@pytest.mark.parametrize(("standard", "limit", "about"), [row for row in every_limit() if row[1].must])
def test_what_is_felt_or_seen_passes_by_one_answer_only(standard: Standard, limit: Limit, about: Vehicle) -> None:
    key, good, bad = ANSWERS[limit.test]
    assert evaluate(answered(limit.test, **{key: good}), standard, about, {}).outcome == "pass"
    assert evaluate(answered(limit.test, **{key: bad}), standard, about, {}).outcome == "fail"
    assert evaluate(answered(limit.test, **{key: "perhaps"}), standard, about, {}).outcome == "not judged"
    assert evaluate(answered(limit.test), standard, about, {}).outcome == "not judged"


# --- a worse reading never turns a fail into a pass ------------------------------------------------------------------

anywhere = st.sampled_from(sorted(STANDARDS))
classes = st.sampled_from(CLASSES)
dates = st.sampled_from(DATES)
units = st.sampled_from(("psi", "kPa"))
marks = st.sampled_from((None, 1.0, 2.0, 5.0, 10.0))


@given(anywhere, classes, dates, units, marks, st.integers(0, 200), st.integers(1, 200), st.integers(60, 240))
def test_a_larger_loss_never_turns_a_fail_into_a_pass(name, of, built, unit, mark, loss, more, seconds) -> None:
    about = vehicle(of, built, gauge_mark=mark)
    for test in ("static-leakage", "applied-leakage"):
        drops = (loss / 4, (loss + more) / 4)
        first, worse = (judged(lost(test, drop, seconds, unit), name, about).outcome for drop in drops)
        assert (first, worse) not in {("fail", "pass"), ("fail", "not judged"), ("not judged", "pass")}


@given(anywhere, classes, dates, marks, st.integers(1, 3000), st.integers(1, 3000))
def test_a_longer_build_up_never_turns_a_fail_into_a_pass(name, of, built, mark, tenths, more) -> None:
    about = vehicle(of, built, gauge_mark=mark)
    first, worse = (
        judged(Observation(test="build-up", seconds=time / 10), name, about).outcome for time in (tenths, tenths + more)
    )
    assert not (first == "fail" and worse != "fail")


@given(anywhere, classes, dates, marks, st.integers(0, 149), st.integers(0, 149))
def test_a_pressure_further_outside_never_turns_a_fail_into_a_pass(name, of, built, mark, one, other) -> None:
    about = vehicle(of, built, gauge_mark=mark)
    low, high = sorted((one, other))
    for test in ("governor-cut-out", "governor-cut-in", "low-air-warning", "parking-valve-pop-out"):
        lower, higher = (judged(at(test, value), name, about) for value in (low, high))
        assert not (higher.reason.prompt == "verdict.below" and lower.outcome != "fail")
        too_high = lower.outcome == "fail" and lower.reason.prompt in ("verdict.above", "verdict.less-than")
        assert not (too_high and higher.outcome != "fail")


@given(anywhere, classes, dates, st.integers(0, 149), st.integers(0, 149), st.integers(0, 149))
def test_what_lies_between_two_passes_is_a_pass(name, of, built, one, two, three) -> None:
    low, middle, high = sorted((one, two, three))
    for test in ("governor-cut-out", "governor-cut-in", "low-air-warning", "parking-valve-pop-out"):
        found = [judged(at(test, value), name, vehicle(of, built)).outcome for value in (low, middle, high)]
        assert not (found[0] == found[2] == "pass" and found[1] != "pass")


@given(anywhere, classes, dates, st.integers(0, 200), st.sampled_from((None, 1.0, 2.0, 5.0)), st.booleans())
def test_a_coarser_gauge_never_turns_a_fail_into_a_pass_or_the_reverse(name, of, built, quarters, mark, wide) -> None:
    sharp, coarse = vehicle(of, built, gauge_mark=mark), vehicle(of, built, gauge_mark=10.0 if wide else 5.0)
    for observation in (lost("applied-leakage", quarters / 4), at("low-air-warning", quarters / 2)):
        found = {judged(observation, name, about).outcome for about in (sharp, coarse)}
        assert found != {"pass", "fail"}
