"""The dialogue, as a driver meets it: phrases in, prompts, timers and verdicts out."""

from __future__ import annotations

import pytest

from assistant.core.events import Close, Device, Due, Ended, Heard, Resumed
from tests.walk import (
    APPLIED_DONE,
    APPLIED_HOLDING,
    BUILT_UP,
    GOVERNED,
    HOLDING,
    JUDGED,
    POPPED,
    READY_FOR_LEAKAGE,
    REBUILT,
    ROLLING,
    SECURED,
    STATIC_DONE,
    WHOLE,
    Walk,
)


def test_a_timer_that_nobody_waits_for_changes_nothing() -> None:
    again = ("brakes are set", "engine running", "brakes released", "done", "engine off")
    walk = Walk(*HOLDING, "cancel", *again, "primary one twenty two secondary one twenty one")
    before, turns = walk.state, walk.turns
    walk.feed(Due(timer="hold/static-leakage/1"))
    walk.feed(Due(timer="half/static-leakage/1"))
    assert walk.state == before
    assert walk.turns == turns
    assert walk.asked == "ask.leak-hold"


def test_a_whole_check_by_voice_passes_every_test_and_closes() -> None:
    walk = Walk(*WHOLE)
    assert walk.outcomes == {
        "build-up": "pass",
        "governor-cut-out": "pass",
        "governor-cut-in": "pass",
        "static-leakage": "pass",
        "applied-leakage": "pass",
        "low-air-warning": "pass",
        "trailer-supply-pop-out": "pass",
        "parking-valve-pop-out": "pass",
        "parking-brake": "pass",
        "trailer-brake": "pass",
        "hand-valve": "pass",
        "service-brake": "pass",
    }
    assert walk.state.mode == "closed"
    assert walk.said[-1] == "closing.secure"
    assert "closing.passed" in walk.said


@pytest.mark.parametrize("vehicle", ["truck", "bus", "tractor"])
def test_a_vehicle_without_a_trailer_is_not_asked_about_one(vehicle) -> None:
    walk = Walk(*APPLIED_DONE[:-1], "primary one eleven secondary one oh nine", vehicle=vehicle)
    walk.say("sixty two light and buzzer on", "thirty two", "brakes are set", "engine running", "both at one twenty")
    walk.say("chocks are out", "yes", "it held", "straight", "continue")
    assert walk.state.mode == "closed"
    assert set(walk.outcomes) & {"trailer-supply-pop-out", "trailer-brake", "hand-valve"} == set()
    assert len(walk.outcomes) == 9


def test_each_reading_is_read_back_in_the_turn_that_takes_it() -> None:
    walk = Walk(*WHOLE)
    for _, _, effects in walk.events:
        kinds = [effect.kind for effect in effects]
        if "take" in kinds:
            prompts = [line.prompt for effect in effects if effect.kind == "say" for line in effect.lines]
            assert prompts[0] == "readback.readings"


def test_the_build_up_time_is_between_the_two_spoken_words() -> None:
    verdict = Walk(*BUILT_UP).judged[0]
    assert verdict.test == "build-up"
    assert verdict.margin == pytest.approx(45 - 37)  # 35 s of waiting and 2 s for the word


def test_the_spoken_pressure_marks_the_moment_as_well() -> None:
    assert Walk(*SECURED, "eighty two", "eighty five", "+35", "one hundred").outcomes == {"build-up": "pass"}


def test_build_up_waits_until_the_pressure_is_low_enough() -> None:
    walk = Walk(*SECURED, "ninety two")
    assert walk.said == ("readback.readings", "not-yet.below")
    walk.say("eighty")
    assert walk.asked == "ask.build-up-start"


# --- gates -----------------------------------------------------------------------------------------------------------


def test_nothing_goes_on_before_the_wheels_are_chocked() -> None:
    walk = Walk("brakes are set", "no", "done", "engine running", "no")
    assert walk.asked == "ask.chocked"
    assert "denied.chocked" in walk.said


def test_the_vehicle_does_not_move_before_both_needles_have_enough() -> None:
    walk = Walk(*REBUILT[:-1], "primary one ten secondary ninety eight")
    assert walk.said == ("readback.readings", "not-yet.rebuilt")
    walk.say("primary one ten secondary one hundred")
    assert walk.asked == "ask.chocks-out"


def test_chocks_that_are_taken_away_end_what_stood_on_them() -> None:
    walk = Walk(*HOLDING, "chocks are out")
    assert "hold.broken" in walk.said
    assert walk.state.hold is None
    assert walk.asked in ("ask.parked", "ask.chocked")


@pytest.mark.parametrize(
    ("phrases", "failed"),
    [
        ((*APPLIED_HOLDING, "+60", "primary one oh six secondary one oh nine"), "applied-leakage"),
        ((*APPLIED_DONE, "fifty two light and buzzer on"), "low-air-warning"),
    ],
)
def test_after_a_failure_that_matters_the_vehicle_is_not_moved(phrases, failed) -> None:
    walk = Walk(*phrases)
    assert walk.outcomes[failed] == "fail"
    if failed == "applied-leakage":
        walk.say("sixty two light and buzzer on")
    walk.say("thirty eight", "thirty two")
    assert walk.asked == "ask.ending"
    assert [walk.outcomes[test] for test in ("parking-brake", "trailer-brake", "hand-valve", "service-brake")] == [
        "not judged"
    ] * 4
    assert walk.state.verdicts["service-brake"].reason.prompt == "not-done.barred"


def test_a_parking_brake_that_slips_ends_all_movement() -> None:
    walk = Walk(*REBUILT, "chocks are out", "yes", "it moved")
    assert walk.outcomes["parking-brake"] == "fail"
    assert walk.outcomes["service-brake"] == "not judged"


# --- holds -----------------------------------------------------------------------------------------------------------


def test_a_hold_calls_half_time_and_then_asks_for_the_last_reading() -> None:
    walk = Walk(*HOLDING)
    walk.wait(29)
    assert walk.said == ("readback.readings", "ask.leak-hold")
    walk.wait(2)
    assert walk.said == ("hold.half",)
    walk.wait(30)
    assert walk.said == ("ask.leak-last",)


def test_a_reading_during_the_hold_is_not_taken_for_the_last_one() -> None:
    walk = Walk(*HOLDING, "primary one twenty secondary one nineteen")
    assert walk.said == ("hold.not-yet",)
    assert "last" not in walk.state.readings


def test_how_long_is_left_is_answered_in_a_hold() -> None:
    assert Walk(*HOLDING, "+10", "how long left").said == ("hold.left",)
    assert Walk("how long left").said == ("hold.none",)


@pytest.mark.parametrize(
    "event",
    [Device(device="microphone", state="lost"), Device(device="microphone", state="back"), Resumed()],
)
def test_an_interrupted_hold_starts_again_from_the_first_reading(event) -> None:
    walk = Walk(*APPLIED_HOLDING, "+20")
    walk.feed(event)
    assert walk.state.hold is None
    assert walk.state.readings == {}
    walk.wait(60)
    assert "applied-leakage" not in walk.outcomes


@pytest.mark.parametrize("begun", [("start", "+10"), ()], ids=["while it was timed", "before its start"])
def test_a_rise_that_was_interrupted_has_to_begin_below_its_first_pressure_again(begun) -> None:
    """Otherwise a "start" from above it takes part of the rise for the whole."""
    walk = Walk(*SECURED, "eighty two", *begun, "stand by", "+30", "continue")
    assert walk.asked == "ask.build-up-below"
    walk.say("ninety one")
    assert "not-yet.below" in walk.said
    walk.say("seventy eight", "start", "+50", "mark")
    assert walk.outcomes["build-up"] == "fail"


def test_a_rise_is_taken_from_its_beginning_after_resuming() -> None:
    walk = Walk(*SECURED, "eighty two", "start", "+10")
    walk.feed(Resumed())
    assert walk.state.moments == {}
    walk.say(*SECURED)
    assert walk.asked == "ask.build-up-below"


def test_stand_by_ends_a_hold_and_continue_asks_for_the_pedal_again() -> None:
    walk = Walk(*APPLIED_HOLDING, "stand by")
    walk.wait(200)
    assert walk.said == ("hold.broken", "flow.standing-by")
    walk.say("continue")
    assert walk.asked == "ask.pedal"


def test_pressure_that_rises_in_a_leak_test_is_asked_again_and_then_not_judged() -> None:
    walk = Walk(*HOLDING, "+60", "primary one thirty one secondary one twenty")
    assert "again.plain" in walk.said
    assert walk.open_test == "static-leakage"
    walk.say("primary one thirty one secondary one twenty")
    assert walk.outcomes["static-leakage"] == "not judged"


# --- needles ---------------------------------------------------------------------------------------------------------


def test_both_needles_may_be_read_one_after_the_other() -> None:
    walk = Walk(*READY_FOR_LEAKAGE, "primary one twenty two")
    assert walk.said == ("readback.readings", "ask.other-needle")
    walk.say("one twenty one")
    assert [(r.needle, r.value) for r in walk.state.readings["first"]] == [("primary", 122), ("secondary", 121)]
    assert walk.asked == "ask.leak-hold"


def test_a_number_without_a_needle_is_asked_for_its_needle() -> None:
    walk = Walk(*READY_FOR_LEAKAGE, "one twenty two")
    assert walk.said[0] == "again.which-needle"
    assert walk.state.readings == {}


def test_a_gauge_with_one_needle_takes_one_number() -> None:
    walk = Walk(*READY_FOR_LEAKAGE, "one twenty two", "+60", "one twenty one", needles=1)
    assert walk.outcomes["static-leakage"] == "pass"


def test_both_at_one_value_reads_both_needles() -> None:
    walk = Walk(*READY_FOR_LEAKAGE, "both at one twenty")
    assert {r.needle for r in walk.state.readings["first"]} == {"primary", "secondary"}


# --- corrections -----------------------------------------------------------------------------------------------------


def test_a_correction_replaces_the_reading_of_the_open_test() -> None:
    walk = Walk(*HOLDING, "correction primary one twenty four")
    assert walk.said == ("readback.corrected",)
    assert walk.state.hold is not None
    values = {reading.needle: reading.value for reading in walk.state.readings["first"]}
    assert values == {"primary": 124, "secondary": 121}
    assert walk.taken[-1].replaces


def test_a_correction_after_the_verdict_judges_again() -> None:
    walk = Walk(*BUILT_UP, "one forty five")
    assert walk.outcomes["governor-cut-out"] == "fail"
    walk.say("correction one twenty five")
    assert walk.outcomes["governor-cut-out"] == "pass"
    assert walk.open_test == "governor-cut-in"
    assert [verdict.outcome for verdict in walk.judged if verdict.test == "governor-cut-out"] == ["fail", "pass"]


def test_a_correction_comes_too_late_once_the_next_test_has_taken_something() -> None:
    walk = Walk(*HOLDING[:-1], "primary one twenty two")
    walk.say("scratch that", "scratch that")
    assert walk.said[0] == "again.nothing-to-correct"


def test_a_reading_can_be_taken_back_without_a_new_one() -> None:
    walk = Walk(*HOLDING, "scratch that")
    assert "readback.taken-back" in walk.said
    assert walk.asked == "ask.leak-first"
    assert walk.state.hold is None


def test_a_correction_in_one_breath_counts_as_one_reading() -> None:
    walk = Walk(*SECURED, "ninety two correction eighty two")
    assert [reading.value for reading in walk.taken[-1].readings] == [82]


def test_a_corrected_gate_pressure_is_held_against_the_gate() -> None:
    walk = Walk(*SECURED, "eighty two", "correction ninety two")
    assert walk.asked == "ask.build-up-below"
    walk = Walk(*REBUILT, "correction secondary ninety five")
    assert walk.asked == "ask.rebuilt"


def late(walk: Walk, text: str, since_s: float) -> Heard:
    """An utterance that goes on with the one that was heard so long ago, where it had been taken for whole."""
    return Heard(text=text, start_ms=walk.now - round(1000 * since_s), end_ms=walk.now, goes_on=True)


def test_a_figure_that_comes_after_its_number_was_taken_makes_another_number_of_it() -> None:
    walk = Walk(*BUILT_UP, "one twenty")
    assert walk.asked == "ask.governor-cut-in"
    walk.wait(1)
    walk.feed(late(walk, "one twenty four", 1.0))
    assert [(one.readings[0].value, one.replaces) for one in walk.taken[-2:]] == [(120, False), (124, True)]
    assert walk.asked == "ask.governor-cut-in"


def test_a_figure_that_comes_after_its_number_was_not_taken_is_an_answer_and_changes_nothing_earlier() -> None:
    walk = Walk(*BUILT_UP, "one twenty five")
    walk.wait(1)
    walk.feed(Heard(text="eighty", start_ms=walk.now, end_ms=walk.now, gap=True))
    assert walk.said[0] == "again.gap"
    walk.wait(1)
    walk.feed(late(walk, "eighty four", 1.0))
    assert [(one.readings[0].value, one.replaces) for one in walk.taken[-2:]] == [(125, False), (84, False)]


# --- commands --------------------------------------------------------------------------------------------------------


def test_go_back_repeats_the_test_before_with_all_precautions() -> None:
    walk = Walk(*STATIC_DONE, "go back")
    assert walk.open_test == "static-leakage"
    assert "static-leakage" not in walk.outcomes
    assert walk.asked == "ask.parked"


def test_cancel_begins_the_open_test_again() -> None:
    walk = Walk(*APPLIED_HOLDING, "cancel")
    assert walk.open_test == "applied-leakage"
    assert walk.state.readings == {}
    assert walk.state.facts & {"charged", "pedal"} == set()


@pytest.mark.parametrize("phrases", [SECURED, HOLDING, ROLLING])
def test_stop_works_at_any_moment_and_everything_is_asked_again(phrases) -> None:
    walk = Walk(*phrases, "stop")
    assert walk.said == ("flow.stopped",)
    assert walk.state.facts == frozenset()
    walk.say("one hundred and twenty", "yes")
    assert walk.state.mode == "stopped"
    walk.say("continue")
    assert walk.asked == "ask.parked"


def test_stop_twice_ends_the_check_incomplete() -> None:
    walk = Walk(*GOVERNED, "stop", "stop")
    assert walk.state.mode == "closed"
    assert "closing.open" in walk.said


def test_skip_wants_a_reason_and_judges_nothing() -> None:
    walk = Walk(*BUILT_UP, "skip")
    assert walk.said == ("ask.skip-reason",)
    walk.say("no time")
    assert walk.outcomes["governor-cut-out"] == "not judged"


def test_questions_are_answered_and_the_step_is_asked_again() -> None:
    for phrase, prompt in (("help", "help.read"), ("where are we", "flow.status")):
        walk = Walk(*BUILT_UP, phrase)
        assert walk.said[0] == prompt
        assert walk.said[-1] == "ask.governor-cut-out"
    assert Walk(*BUILT_UP, "what is the limit").said[-1] == "ask.governor-cut-out"


def test_repeat_says_the_last_turn_again() -> None:
    walk = Walk(*BUILT_UP)
    before = walk.said
    walk.say("say again")
    assert walk.said == before


def test_why_gives_the_reason_of_the_last_verdict_and_what_to_look_at() -> None:
    walk = Walk(*APPLIED_HOLDING, "+60", "primary one oh six secondary one oh nine", "why")
    assert walk.said[0] == "verdict.fail"
    assert any(prompt.startswith("cause.") for prompt in walk.said)


# --- what was not understood, and silence ----------------------------------------------------------------------------


def test_an_improbable_reading_is_asked_again_once() -> None:
    walk = Walk(*GOVERNED[:-1], "one thirty five")
    assert "again.plain" in walk.said
    assert walk.open_test == "governor-cut-in"


def test_a_reading_beyond_every_gauge_is_never_taken() -> None:
    walk = Walk(*BUILT_UP, "three hundred", "three hundred", "three hundred")
    assert "again.out-of-range" in walk.said
    assert walk.open_test == "governor-cut-out"


def test_the_second_miss_asks_for_digits() -> None:
    walk = Walk(*BUILT_UP, "two hundred", "two hundred")
    assert walk.said == ("again.out-of-range", "again.digits")


def test_silence_is_answered_twice_and_then_respected() -> None:
    walk = Walk(*SECURED[:-1])
    turns = walk.turns
    walk.wait(1000)
    assert walk.turns == turns + 2


def test_while_the_vehicle_moves_the_assistant_is_silent() -> None:
    walk = Walk(*ROLLING)
    turns = walk.turns
    walk.wait(1000)
    assert walk.turns == turns


def test_an_ended_recording_closes_the_check_as_incomplete() -> None:
    walk = Walk(*GOVERNED)
    walk.feed(Ended(why="recording over"))
    assert walk.state.mode == "closed"
    assert "closing.open" in walk.said


def test_an_interrupted_check_can_be_resumed_after_it_was_ended() -> None:
    walk = Walk(*STATIC_DONE)
    walk.feed(Ended(why="told to stop"))
    walk.feed(Resumed())
    assert walk.state.mode == "asking"
    assert walk.open_test == "applied-leakage"
    assert walk.asked == "ask.parked"


def test_popped_without_a_number_asks_for_it_and_no_pop_is_an_answer() -> None:
    walk = Walk(*POPPED[:-2], "trailer knob popped")
    assert walk.said == ("ask.and-the-reading",)
    walk.say("thirty eight", "did not pop")
    assert walk.outcomes["trailer-supply-pop-out"] == "pass"
    assert walk.outcomes["parking-valve-pop-out"] in ("fail", "not judged")


def test_light_and_buzzer_are_asked_when_they_were_not_reported() -> None:
    walk = Walk(*APPLIED_DONE, "sixty two light is on")
    assert walk.asked == "ask.buzzer"
    walk.say("no")
    assert walk.state.observations["low-air-warning"].answers == {"light": "on", "buzzer": "off"}


def test_a_report_answers_the_questions_that_are_still_to_come() -> None:
    walk = Walk(*APPLIED_DONE, "sixty two", "light and buzzer on")
    assert walk.outcomes["low-air-warning"] == "pass"
    assert walk.open_test == "trailer-supply-pop-out"


def test_a_range_that_spans_the_limit_is_not_judged() -> None:
    walk = Walk(*APPLIED_DONE, "between fifty and sixty", "yes", "yes")
    assert walk.outcomes["low-air-warning"] == "not judged"
    walk = Walk(*APPLIED_DONE, "between sixty and sixty five", "yes", "yes")
    assert walk.outcomes["low-air-warning"] == "pass"


def test_a_range_opens_a_gate_only_with_its_worse_end() -> None:
    walk = Walk(*SECURED, "about eighty four")
    assert walk.said[-1] == "not-yet.below"
    walk.say("between seventy and eighty")
    assert walk.asked == "ask.build-up-start"


def test_a_number_reported_for_one_knob_is_never_taken_for_the_other() -> None:
    walk = Walk(*POPPED[:-1], "trailer knob popped at thirty eight")
    assert "parking-valve-pop-out" not in walk.outcomes
    assert walk.said[0] == "again.not-an-answer"
    walk.say("parking knob popped at thirty two")
    assert walk.outcomes["parking-valve-pop-out"] == "pass"


def test_a_corrected_first_reading_keeps_the_moment_of_its_hold() -> None:
    walk = Walk(*HOLDING, "+5", "correction primary one twenty one", "+55", "primary one twenty secondary one twenty")
    assert walk.outcomes["static-leakage"] == "pass"


def test_a_correction_of_an_odd_reading_leaves_earlier_tests_alone() -> None:
    walk = Walk(*POPPED[:-1], "ninety nine", "correction thirty three")
    values = {test: seen.readings["at"][0].value for test, seen in walk.state.observations.items() if "pop" in test}
    assert values == {"trailer-supply-pop-out": 38, "parking-valve-pop-out": 33}


def test_a_correction_after_a_gate_that_stayed_shut_is_the_next_reading() -> None:
    walk = Walk(*REBUILT[:-1], "primary one ten secondary ninety", "correction primary one ten secondary one hundred")
    assert walk.asked == "ask.chocks-out"


# --- the end ---------------------------------------------------------------------------------------------------------

BARRED = (*APPLIED_DONE, "sixty two light and buzzer on", "trailer knob popped at thirty eight", "fifty eight")
MOVES = ("parking-brake", "trailer-brake", "hand-valve", "service-brake")


def test_after_the_last_test_silence_accepts_the_answers_and_ends_the_check() -> None:
    walk = Walk(*JUDGED)
    assert walk.asked == "ask.ending"
    assert walk.state.mode == "asking"
    walk.wait(11)
    assert walk.state.mode == "closed"
    assert "closing.passed" in walk.said


def test_a_last_answer_that_was_heard_wrong_can_be_given_again() -> None:
    walk = Walk(*ROLLING, "pulls left", "go back")
    assert "service-brake" not in walk.outcomes
    walk.say(*SECURED[:3], "engine running", "both at one ten", "chocks are out", "yes", "straight", "continue")
    assert walk.outcomes["service-brake"] == "pass"
    assert walk.state.mode == "closed"


def test_the_last_reading_can_be_corrected_although_the_tests_after_it_are_barred() -> None:
    walk = Walk(*BARRED)
    assert walk.outcomes["parking-valve-pop-out"] == "fail"
    assert walk.asked == "ask.ending"
    walk.say("correction thirty eight")
    assert walk.outcomes["parking-valve-pop-out"] == "pass"
    assert set(walk.outcomes) & set(MOVES) == set()
    assert walk.open_test == "parking-brake"
    assert walk.asked == "ask.parked"


def test_a_correction_that_still_fails_keeps_the_vehicle_where_it_is() -> None:
    walk = Walk(*BARRED, "correction fifty six")
    assert walk.state.observations["parking-valve-pop-out"].readings["at"][0].value == 56
    assert [walk.outcomes[test] for test in MOVES] == ["not judged"] * 4
    assert walk.asked == "ask.ending"


def test_go_back_at_the_end_leads_to_the_last_test_that_could_be_done() -> None:
    walk = Walk(*BARRED, "go back")
    assert walk.open_test == "parking-valve-pop-out"
    assert set(walk.outcomes) & {"parking-valve-pop-out", *MOVES} == set()


def test_a_correction_of_the_pressure_before_moving_asks_for_it_again() -> None:
    walk = Walk(*REBUILT, "chocks are out", "yes", "it held", "correction secondary ninety five")
    assert walk.asked == "ask.rebuilt"


@pytest.mark.parametrize(
    ("phrase", "said"),
    [
        ("one hundred and ten", "again.not-an-answer"),
        ("skip no time", "again.not-an-answer"),
        ("no", "denied.ending"),
        ("scratch that", "again.and-the-right-one"),
        ("where are we", "flow.status"),
        ("why", "verdict.fail"),
        ("repeat", "readback.readings"),
    ],
)
def test_whatever_else_is_said_at_the_end_changes_no_verdict(phrase, said) -> None:
    walk = Walk(*BARRED)
    before = walk.state.verdicts
    walk.say(phrase)
    assert walk.said[0] == said
    assert walk.said[-1] == "ask.ending"
    assert walk.state.verdicts == before
    walk.wait(100)
    assert walk.state.mode == "closed"


@pytest.mark.parametrize("phrase", ["stop", "continue", "yes"])
def test_the_check_is_complete_however_it_is_ended_after_the_last_test(phrase) -> None:
    walk = Walk(*JUDGED, phrase)
    assert walk.events[-2][2][-2] == Close(complete=True)
    assert walk.state.mode == "closed"


def test_silence_accepts_nothing_while_the_driver_can_not_be_heard() -> None:
    walk = Walk(*JUDGED)
    walk.feed(Device(device="microphone", state="lost"))
    walk.wait(1000)
    assert walk.state.mode == "asking"
    walk.feed(Device(device="microphone", state="back"))
    assert walk.said == ("device.microphone-back", "ask.ending")
    walk.wait(11)
    assert walk.state.mode == "closed"


def test_a_check_that_was_interrupted_at_its_end_asks_the_last_question_again() -> None:
    walk = Walk(*JUDGED)
    walk.feed(Resumed())
    assert walk.said == ("ask.ending",)


def test_the_cut_in_is_only_asked_for_once_the_governor_has_cut_out() -> None:
    walk = Walk(*GOVERNED, "brakes released", "go back", *SECURED)
    assert walk.open_test == "governor-cut-in"
    assert walk.asked == "ask.unloaded"
    walk.say("done")
    assert walk.asked == "ask.governor-cut-in"
    assert Walk(*GOVERNED[:-1], "cancel").asked == "ask.unloaded"


def test_the_question_is_put_again_once_the_driver_can_be_heard() -> None:
    walk = Walk(*GOVERNED)
    for device in ("microphone", "loudspeaker"):
        walk.feed(Device(device=device, state="lost"))
    walk.feed(Device(device="loudspeaker", state="back"))
    assert walk.said == ("device.loudspeaker-back",)
    walk.feed(Device(device="microphone", state="back"))
    assert walk.said == ("device.microphone-back", "ask.released-trailer")
