"""The evaluator beyond the printed vectors: doubt, holds, odd data, and what follows from a verdict."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from observed import MIDDLE, NEW, OLD, STANDARDS, answered, at, judged, lost, reading, rise, vehicle

from assistant import assets
from assistant.core.causes import causes
from assistant.core.contradictions import contradictions
from assistant.core.evaluator import bars_movement, evaluate
from assistant.core.events import Line, MakerFigure, Observation, Reading, TestId, Vehicle, VehicleClass, Verdict
from assistant.core.limit import Built
from assistant.standards.checking import examine

TESTS: tuple[TestId, ...] = get_args(TestId)
CLASSES: tuple[VehicleClass, ...] = get_args(VehicleClass)
DATES: tuple[Built, ...] = get_args(Built)
PROMPTS = assets.prompts()


# --- doubt: gauge marks, ranges, several needles ---------------------------------------------------------------------


@pytest.mark.parametrize(("value", "expected"), [(60, "pass"), (59, "not judged"), (55, "not judged"), (54.5, "fail")])
def test_a_figure_that_is_only_printed_as_about_fails_from_a_stated_point_on(value, expected) -> None:
    # Newfoundland and Labrador, single unit: approximately 60 psi; 55 psi is the lowest figure of other provinces
    assert judged(at("low-air-warning", value), "newfoundland-and-labrador").outcome == expected


@pytest.mark.parametrize(
    ("loss", "expected"), [(1, "pass"), (1.5, "not judged"), (3, "not judged"), (5, "not judged"), (5.5, "fail")]
)
def test_a_loss_on_a_coarse_gauge_passes_or_fails_only_a_mark_away_from_the_limit(loss, expected) -> None:
    # half a mark for each of two readings, as the guard band of JCGM 106:2012, 8.3; limit 3 psi, marks 2 psi apart
    assert judged(lost("applied-leakage", loss), about=vehicle("truck", gauge_mark=2.0)).outcome == expected


@pytest.mark.parametrize(
    ("value", "expected"), [(57.5, "pass"), (57, "not judged"), (53, "not judged"), (52.5, "not judged"), (52, "fail")]
)
def test_a_pressure_on_a_coarse_gauge_passes_or_fails_only_half_a_mark_away_from_the_limit(value, expected) -> None:
    assert judged(at("low-air-warning", value), about=vehicle(gauge_mark=5.0)).outcome == expected


def test_a_range_that_spans_the_limit_is_not_judged() -> None:
    between_85_and_90 = at("governor-cut-in", 87.5).model_copy(update={"within": {"at": 2.5}})
    assert judged(between_85_and_90, "california").outcome == "pass"
    spanning = at("governor-cut-in", 86).model_copy(update={"within": {"at": 2.5}})
    assert judged(spanning, "california").reason.prompt == "verdict.too-coarse"


def test_the_deciding_needle_is_the_one_that_the_source_names() -> None:
    readings = (reading(62, needle="primary"), reading(57, needle="secondary"))
    warning = Observation(test="low-air-warning", readings={"at": readings})
    lowest = judged(warning, "cdl-manual")  # section 5.3: the tank with the lowest pressure
    assert (lowest.outcome, lowest.needle) == ("fail", "secondary")
    apart = (reading(30, needle="primary"), reading(15, needle="secondary"))
    pop_out = Observation(test="trailer-supply-pop-out", readings={"at": apart})
    assert judged(pop_out, "british-columbia").outcome == "pass"  # chapter 10: the highest reservoir gauge
    assert judged(pop_out, "cdl-manual").outcome == "fail"  # no needle is named: the worst decides


def test_the_worse_needle_decides_a_leak() -> None:
    first = (reading(118, needle="primary"), reading(116, needle="secondary"))
    last = (reading(117, needle="primary"), reading(111.5, needle="secondary"))
    verdict = judged(Observation(test="applied-leakage", readings={"first": first, "last": last}, seconds=61))
    assert (verdict.outcome, verdict.needle, verdict.margin) == ("fail", "secondary", -0.5)


def test_a_needle_that_was_not_read_at_the_end_keeps_a_leak_from_passing() -> None:
    first = (reading(118, needle="primary"), reading(116, needle="secondary"))
    readings = {"first": first, "last": (reading(117, needle="primary"),)}
    assert judged(Observation(test="applied-leakage", readings=readings, seconds=60)).outcome == "not judged"


def test_a_needle_that_fails_outweighs_one_that_says_nothing() -> None:
    first = (reading(118, needle="primary"), reading(116, needle="secondary"))
    readings = {"first": first, "last": (reading(110, needle="primary"),)}
    assert judged(Observation(test="applied-leakage", readings=readings, seconds=60)).outcome == "fail"


def test_readings_in_two_units_are_compared_exactly() -> None:
    readings = {"first": (reading(800, "kPa"),), "last": (reading(114, "psi"),)}  # 114 psi are 786.0 kPa
    verdict = judged(Observation(test="applied-leakage", readings=readings, seconds=60), "quebec", vehicle("truck"))
    assert (verdict.outcome, verdict.unit, verdict.margin) == ("pass", "kPa", pytest.approx(40 - 13.998, abs=0.001))


def test_the_error_of_the_gauge_is_told_and_not_applied() -> None:
    # California Vehicle Code 26505: within 10 % of the actual pressure
    verdict = judged(at("low-air-warning", 55), "california")
    assert verdict.outcome == "pass"
    assert verdict.notes[0].values["error"] == Reading(value=5.5, unit="psi")


def test_the_error_of_the_gauge_counts_where_the_standard_says_so() -> None:
    strict = STANDARDS["california"].gauge.model_copy(update={"applied": True})
    standard = STANDARDS["california"].model_copy(update={"gauge": strict})
    assert evaluate(at("low-air-warning", 57), standard, Vehicle(), {}).outcome == "not judged"
    assert evaluate(at("low-air-warning", 62), standard, Vehicle(), {}).outcome == "pass"
    assert evaluate(lost("applied-leakage", 4), standard, Vehicle(), {}).outcome == "pass"  # it cancels in a loss


# --- holds -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loss", "seconds", "expected"),
    [
        (4, 60, "pass"),
        (4.5, 60, "fail"),
        (4.5, 75, "fail"),  # the driver spoke a little late: the loss counts as it is
        (4, 59, "not judged"),
        (20, 59, "not judged"),
        (4, 180, "pass"),  # less time can't lose more
        (4.5, 76, "not judged"),
        (7.5, 120, "not judged"),
        (8, 120, "not judged"),  # 4 psi for each minute: not over the limit
        (8.5, 120, "fail"),  # more than 4 psi even if shared equally
    ],
)
def test_a_hold_is_judged_by_its_length(loss, seconds, expected) -> None:
    assert judged(lost("applied-leakage", loss, seconds)).outcome == expected


def test_a_short_hold_says_so_even_when_it_lost_too_much_already() -> None:
    verdict = judged(lost("applied-leakage", 20, 30))
    assert verdict.reason.prompt == "verdict.hold-short-and-over"
    assert bars_movement(verdict)


RATED = """
id = "rated"
title = "A depot's own rule"
edition = "first"
date = "undated"
kind = "guide"
meaning = "A guide."
order = ["applied-leakage"]
[before_moving]
pressure = { psi = 100 }
source = "own"
sure = "own"
[[limits]]
test = "applied-leakage"
at_most = { psi = 3 }
hold = 120
per_minute = true
consequence = "must-not-drive"
source = "own"
sure = "own"
"""


@pytest.mark.parametrize(
    ("loss", "seconds", "expected"),
    [(5, 120, "pass"), (6, 120, "pass"), (6.5, 120, "fail"), (9, 180, "pass"), (2, 60, "not judged")],
)
def test_a_rate_is_judged_per_minute_of_the_whole_hold(loss, seconds, expected) -> None:
    # "3 psi per minute, held at least 2 minutes" is printed in a provincial manual of which only a copy was seen
    standard = examine(RATED)[0]
    assert standard is not None
    assert evaluate(lost("applied-leakage", loss, seconds), standard, Vehicle(), {}).outcome == expected


def test_a_leak_test_starts_from_the_pressure_that_the_source_wants() -> None:
    # Ontario Truck Handbook 6-1-4: between cut-in and cut-out, 80 to 145 psi
    low = judged(lost("applied-leakage", 1, first=79), "ontario")
    assert low.reason.prompt == "verdict.start-too-low"
    assert judged(lost("applied-leakage", 1, first=80), "ontario").outcome == "pass"


# --- another span of build-up than the standard's ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "seconds", "expected"),
    [
        (80, 100, 45, "pass"),  # a wider span in time
        (80, 100, 46, "not judged"),
        (85, 98, 46, "fail"),  # not even a narrower span in time
        (85, 98, 40, "not judged"),
        (80, 98, 40, "not judged"),
        (80, 98, 60, "not judged"),
        (85.4, 99.6, 45, "pass"),  # the same marks, read a little differently
        (50, 90, 45, "not judged"),
    ],
)
def test_a_time_over_another_span_counts_only_where_it_is_certain(start, end, seconds, expected) -> None:
    assert judged(rise(start, end, seconds)).outcome == expected


def test_a_pressure_that_falls_in_build_up_is_not_judged() -> None:
    assert judged(rise(100, 85, 30)).reason.prompt == "verdict.did-not-rise"


# --- warning and pop-outs that did nothing ---------------------------------------------------------------------------


def test_no_warning_yet_is_no_failure() -> None:
    absent = at("low-air-warning", 65, light="off", buzzer="off")
    assert judged(absent).reason.prompt == "verdict.no-warning-yet"
    assert judged(answered("low-air-warning", light="off", buzzer="off")).outcome == "fail"


def test_a_knob_that_did_not_pop_fails_unless_the_source_allows_it() -> None:
    stayed = answered("parking-valve-pop-out", popped="no")
    assert judged(stayed).outcome == "fail"
    assert judged(at("parking-valve-pop-out", 30, popped="no")).reason.prompt == "verdict.not-popped-yet"
    assert judged(at("parking-valve-pop-out", 5, popped="no")).outcome == "fail"
    # Newfoundland and Labrador, single unit: only if plumbed to the main tanks
    allowed = judged(stayed, "newfoundland-and-labrador")
    assert (allowed.outcome, bars_movement(allowed)) == ("not judged", False)


def test_a_knob_that_is_not_there_is_not_judged_and_bars_nothing() -> None:
    verdict = judged(answered("trailer-supply-pop-out", popped="not fitted"))
    assert (verdict.outcome, bars_movement(verdict)) == ("not judged", False)


# --- vehicles --------------------------------------------------------------------------------------------------------


def test_the_figure_of_the_maker_overrides_a_handbook_and_is_named() -> None:
    figure = MakerFigure(test="low-air-warning", at_least=65.0, at_most=80.0, where="operator's manual, page 12")
    verdict = judged(at("low-air-warning", 62), "cdl-manual-skills-test", vehicle(maker=(figure,)))
    assert verdict.outcome == "fail"
    assert verdict.limit == "from 65 to 80 psi, the maker's figure"
    assert verdict.source == "operator's manual, page 12"


def test_the_figure_of_the_maker_does_not_override_law_and_that_is_told() -> None:
    figure = MakerFigure(test="low-air-warning", at_least=40.0, where="operator's manual, page 12")
    verdict = judged(at("low-air-warning", 50), "us-federal", vehicle(maker=(figure,)))
    assert verdict.outcome == "fail"
    assert "note.maker-not-used" in [note.prompt for note in verdict.notes]


def test_the_figure_of_the_maker_takes_the_place_of_every_figure_of_the_handbook() -> None:
    # California, handbook of about 2013: less than 130 psi
    figure = MakerFigure(test="governor-cut-out", at_least=125.0, where="plate")
    assert judged(at("governor-cut-out", 135), "california", vehicle(maker=(figure,))).outcome == "pass"


def test_the_time_of_the_maker_allows_for_larger_tanks() -> None:
    figure = MakerFigure(test="build-up", at_most=60.0, unit="s", where="build sheet")
    assert judged(rise(85, 100, 55), "cdl-manual", vehicle(maker=(figure,))).outcome == "pass"
    assert judged(rise(85, 100, 61), "cdl-manual", vehicle(maker=(figure,))).outcome == "fail"


def test_a_missing_part_is_not_judged() -> None:
    verdict = judged(answered("hand-valve", felt="no"), about=vehicle(absent=("hand-valve",)))
    assert (verdict.outcome, verdict.reason.prompt) == ("not judged", "not-done.not-fitted")


# --- odd data --------------------------------------------------------------------------------------------------------

anywhere = st.sampled_from(sorted(STANDARDS))
classes = st.sampled_from(CLASSES)
dates = st.sampled_from(DATES)
units = st.sampled_from(("psi", "kPa"))
numbers = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False),
    st.integers(-5, 1200).map(float),
    st.sampled_from((0.0, -0.0, 1e300)),
)
some_readings = st.lists(
    st.builds(Reading, value=numbers, unit=units, needle=st.sampled_from((None, "primary", "secondary"))), max_size=3
).map(tuple)
slots = st.sampled_from(("at", "first", "last", "from", "to", "below", "whatever"))
answers = st.dictionaries(
    st.sampled_from(("light", "buzzer", "popped", "lines", "held", "felt", "pull", "colour")),
    st.sampled_from(("on", "off", "yes", "no", "not fitted", "held", "moved", "left", "straight", "open", "")),
)
reasons = st.sampled_from((None, None, None, "not-fitted", "no-time", "barred-by:parking-brake", "rain", ""))
observations = st.builds(
    Observation,
    test=st.sampled_from(TESTS),
    readings=st.dictionaries(slots, some_readings),
    seconds=st.one_of(st.none(), numbers),
    answers=answers,
    not_done=reasons,
    within=st.dictionaries(slots, numbers),
)
vehicles = st.builds(
    Vehicle,
    vehicle_class=classes,
    built=dates,
    gauge_mark=st.one_of(st.none(), numbers),
    absent=st.lists(st.sampled_from((*TESTS, "trailer-spring-brakes")), max_size=2).map(tuple),
    maker=st.lists(
        st.builds(
            MakerFigure,
            test=st.sampled_from(TESTS),
            at_least=st.sampled_from((None, 0.0, 60.0)),
            at_most=st.sampled_from((None, 30.0, 90.0)),
            unit=st.sampled_from(("psi", "kPa", "s")),
            where=st.just("plate"),
        ),
        max_size=2,
    ).map(tuple),
)


@given(anywhere, vehicles, observations, st.lists(observations, max_size=3))
def test_whatever_was_observed_ends_in_a_verdict_that_can_be_said(name, about, observation, others) -> None:
    earlier = {other.test: other for other in others}
    verdict = evaluate(observation, STANDARDS[name], about, earlier)
    assert Verdict.model_validate_json(verdict.model_dump_json()) == verdict
    for line in (verdict.reason, *verdict.notes, *causes(verdict)):
        assert PROMPTS.shown(line)
        assert PROMPTS.spoken(line)
    assert isinstance(bars_movement(verdict), bool)
    if observation.not_done is not None:
        assert verdict.outcome == "not judged"


# --- what follows from a verdict -------------------------------------------------------------------------------------

BARRING = ("build-up", "static-leakage", "applied-leakage", "low-air-warning", "trailer-supply-pop-out")
BARRING += ("parking-valve-pop-out", "parking-brake", "trailer-brake")


def verdict_of(test: TestId, outcome: str, prompt: str) -> Verdict:
    reason = Line(prompt=prompt)
    return Verdict(test=test, outcome=outcome, limit="", margin=None, unit=None, reason=reason, source="")


@pytest.mark.parametrize("test", TESTS)
def test_the_vehicle_does_not_roll_after_a_failure_or_with_something_undone(test) -> None:
    barring = test in BARRING
    assert bars_movement(verdict_of(test, "fail", "verdict.below")) == (barring or test == "hand-valve")
    assert not bars_movement(verdict_of(test, "pass", "verdict.within"))
    assert bars_movement(verdict_of(test, "not judged", "not-done.no-time")) == barring
    assert bars_movement(verdict_of(test, "not judged", "verdict.too-coarse")) == barring
    assert not bars_movement(verdict_of(test, "not judged", "not-done.not-fitted"))
    assert not bars_movement(verdict_of(test, "not judged", "verdict.no-figure"))


def test_a_hand_valve_that_does_not_work_bars_the_rolling_stop() -> None:
    assert bars_movement(verdict_of("hand-valve", "not judged", "not-done.cannot"))


def test_every_failure_has_usual_causes_and_nothing_else_has() -> None:
    for test in TESTS:
        assert causes(verdict_of(test, "fail", "verdict.whatever"))
        assert causes(verdict_of(test, "pass", "verdict.whatever")) == ()
        assert causes(verdict_of(test, "not judged", "verdict.whatever")) == ()


def test_a_leak_with_the_pedal_down_points_to_the_service_side_if_it_was_tight_before() -> None:
    applied = verdict_of("applied-leakage", "fail", "verdict.loss-over")
    tight = {"static-leakage": verdict_of("static-leakage", "pass", "verdict.loss-within")}
    assert "cause.static-leakage" in [line.prompt for line in causes(applied)]
    assert "cause.static-leakage" not in [line.prompt for line in causes(applied, tight)]


def test_no_cause_tells_anyone_to_repair() -> None:
    causes_told = [prompt for prompt in PROMPTS.ids() if prompt.startswith("cause.")]
    assert len(causes_told) >= len(TESTS)
    for prompt in causes_told:
        text = PROMPTS.shown(Line(prompt=prompt)).lower()
        assert [word for word in ("replace", "adjust the", "tighten", "repair", "loosen") if word in text] == []


def test_the_reason_of_a_test_that_was_not_done_names_the_test_that_bars_it() -> None:
    barred = Observation(test="service-brake", not_done="barred-by:static-leakage")
    assert "static leakage" in PROMPTS.shown(judged(barred).reason)


def test_shipped_standards_do_not_contradict_themselves() -> None:
    assert [contradictions(standard) for standard in STANDARDS.values()] == [()] * len(STANDARDS)


def test_a_vehicle_of_any_class_and_date_has_an_order_by_every_standard() -> None:
    for standard in STANDARDS.values():
        for of in CLASSES:
            for built in (OLD, MIDDLE, NEW):
                order = standard.order(vehicle(of, built))
                assert order, (standard.id, of, built)
                assert "build-up" not in order or standard.rise(vehicle(of, built)) is not None
