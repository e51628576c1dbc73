"""Which readings are asked again, and that no limit has a say in it."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from observed import STANDARDS, at, reading, vehicle

from assistant import assets
from assistant.core.events import Observation, Reading, TestId, Vehicle
from assistant.core.plausible import odd

TESTS: tuple[TestId, ...] = get_args(TestId)
PROMPTS = assets.prompts()


def asked_again(
    test: TestId,
    slot: str,
    spoken: Reading,
    *,
    so_far: dict[str, tuple[Reading, ...]] | None = None,
    earlier: dict[TestId, float] | None = None,
    about: Vehicle | None = None,
    standard: str = "common-practice",
) -> str | None:
    before = {other: at(other, value) for other, value in (earlier or {}).items()}
    observation = Observation(test=test, readings=so_far or {})
    line = odd(test, slot, spoken, observation, before, STANDARDS[standard], about or vehicle())
    if line is not None:
        assert PROMPTS.shown(line)
        assert PROMPTS.spoken(line)
    return line and line.prompt


def test_what_no_gauge_shows_is_asked_again() -> None:
    # California Vehicle Code 26503: the safety valve opens at 150 psi or below
    assert asked_again("governor-cut-out", "at", reading(151)) == "odd.above-gauge"
    assert asked_again("governor-cut-out", "at", reading(150)) is None
    assert asked_again("governor-cut-out", "at", reading(1040, "kPa")) == "odd.above-gauge"
    assert asked_again("parking-valve-pop-out", "at", reading(-1)) == "odd.below-zero"


def test_the_pressures_of_one_vehicle_keep_their_order() -> None:
    assert asked_again("governor-cut-in", "at", reading(120), earlier={"governor-cut-out": 120}) == (
        "odd.not-below-governor-cut-out"
    )
    assert asked_again("governor-cut-in", "at", reading(105), earlier={"governor-cut-out": 120}) is None
    assert asked_again("governor-cut-out", "at", reading(100), earlier={"governor-cut-in": 105}) == (
        "odd.not-above-governor-cut-in"
    )
    assert asked_again("low-air-warning", "at", reading(99), earlier={"governor-cut-in": 98}) == (
        "odd.not-below-governor-cut-in"
    )
    for knob in ("trailer-supply-pop-out", "parking-valve-pop-out"):
        assert asked_again(knob, "at", reading(65), earlier={"low-air-warning": 62}) == "odd.not-below-low-air-warning"
        assert asked_again(knob, "at", reading(40), earlier={"low-air-warning": 62}) is None


def test_a_rise_in_a_leakage_test_is_asked_again() -> None:
    before = {"first": (reading(118, needle="primary"), reading(110, needle="secondary"))}
    rose = asked_again("applied-leakage", "last", reading(119, needle="primary"), so_far=before)
    assert rose == "odd.rose"
    assert asked_again("applied-leakage", "last", reading(118, needle="primary"), so_far=before) is None
    # 117 would be a rise of the other needle
    assert asked_again("applied-leakage", "last", reading(117, needle="primary"), so_far=before) is None
    assert asked_again("applied-leakage", "last", reading(117, needle="secondary"), so_far=before) == "odd.rose"


def test_a_rise_of_less_than_a_mark_of_the_gauge_is_not_asked_again() -> None:
    before = {"first": (reading(118),)}
    coarse = vehicle(gauge_mark=2.0)
    assert asked_again("static-leakage", "last", reading(120), so_far=before, about=coarse) is None
    assert asked_again("static-leakage", "last", reading(120.5), so_far=before, about=coarse) == "odd.rose"


def test_a_large_loss_is_asked_again() -> None:
    before = {"first": (reading(118),)}
    assert asked_again("static-leakage", "last", reading(80), so_far=before) == "odd.lost-much"
    assert asked_again("static-leakage", "last", reading(93), so_far=before) is None


def test_a_build_up_that_does_not_rise_is_asked_again() -> None:
    assert asked_again("build-up", "to", reading(85), so_far={"from": (reading(85),)}) == "odd.did-not-rise"
    assert asked_again("build-up", "to", reading(100), so_far={"from": (reading(85),)}) is None


def test_needles_far_apart_are_asked_again() -> None:
    other = {"first": (reading(118, needle="primary"),)}
    apart = asked_again("static-leakage", "first", reading(80, needle="secondary"), so_far=other)
    assert apart == "odd.needles-apart"
    assert asked_again("static-leakage", "first", reading(90, needle="secondary"), so_far=other) is None
    # a reading is never far from itself, whether it is among those gathered already or not
    assert asked_again("static-leakage", "first", reading(118, needle="primary"), so_far=other) is None


@pytest.mark.parametrize(
    ("test", "value"),
    [("governor-cut-out", 19), ("governor-cut-in", 13), ("low-air-warning", 16), ("parking-valve-pop-out", 0)],
)
def test_a_teen_heard_for_a_ten_is_asked_again(test, value) -> None:
    assert asked_again(test, "at", reading(value)) == "odd.unusual"


@given(
    st.sampled_from(TESTS), st.sampled_from(("at", "first", "last", "from", "to")), st.integers(0, 1100), st.booleans()
)
def test_the_standard_has_no_say_in_what_is_asked_again(test, slot, value, metric) -> None:
    spoken = reading(value, "kPa" if metric else "psi")
    assert len({asked_again(test, slot, spoken, standard=name) for name in STANDARDS}) == 1


def test_readings_of_an_ordinary_check_are_not_asked_again() -> None:
    ordinary = {"governor-cut-out": 125, "governor-cut-in": 102, "low-air-warning": 62, "trailer-supply-pop-out": 38}
    ordinary |= {"parking-valve-pop-out": 32}
    earlier: dict[TestId, float] = {}
    for test, value in ordinary.items():
        assert asked_again(test, "at", reading(value), earlier=dict(earlier)) is None
        earlier[test] = value
