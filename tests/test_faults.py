"""Faults by name, and the truth about a vehicle that has them."""

from __future__ import annotations

from typing import get_args

import pytest

from assistant.core.events import Observation, TestId
from assistant.core.trouble import BadInput
from assistant.vehicle.condition import Condition
from assistant.vehicle.faults import KINDS, Fault, condition_of
from assistant.vehicle.spec import load, shipped
from assistant.vehicle.truth import Manner, truth
from assistant.vehicle.vehicle import Vehicle


def found(test: TestId, *faults: str, which: str = "combination", manner: Manner | None = None) -> Observation:
    vehicle = Vehicle.from_toml(which, faults)
    return truth(vehicle, test, manner) if manner else truth(vehicle, test)


def values(observation: Observation, slot: str) -> dict[str, float]:
    return {str(each.needle): each.value for each in observation.readings[slot]}


def losses(observation: Observation) -> dict[str, float]:
    first, last = values(observation, "first"), values(observation, "last")
    return {needle: first[needle] - last[needle] for needle in first}


# --- leaks ------------------------------------------------------------------------------------------------------------

STATIC = ("primary", "secondary", "springs", "trailer-line", "trailer-reservoir")
APPLIED = ("rear-chambers", "front-chambers", "trailer-chambers")


@pytest.mark.parametrize("place", STATIC)
def test_a_leak_shows_the_stated_loss_on_the_needle_that_falls_most(place: str) -> None:
    loss = losses(found("static-leakage", f"leak-{place}=6"))
    assert max(loss.values()) == pytest.approx(6.0, rel=0.02)


@pytest.mark.parametrize("place", APPLIED)
def test_a_chamber_leak_shows_the_stated_loss_only_while_the_pedal_is_down(place: str) -> None:
    fault = f"leak-{place}=6"
    assert max(losses(found("applied-leakage", fault)).values()) == pytest.approx(6.0, rel=0.02)
    assert max(losses(found("static-leakage", fault)).values()) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    ("which", "rate"), [("truck", 0.5), ("bus", 3.0), ("tractor", 10.0), ("doubles", 3.0), ("triples", 20.0)]
)
def test_a_leak_of_any_size_shows_what_it_says_on_every_vehicle(which: str, rate: float) -> None:
    loss = losses(found("static-leakage", f"leak-secondary={rate}", which=which))
    assert loss["secondary"] == pytest.approx(rate, rel=0.02)


def test_check_valves_keep_a_leak_from_the_other_needle_and_a_wet_tank_leak_from_both() -> None:
    loss = losses(found("static-leakage", "leak-primary=6", which="truck"))
    assert loss["primary"] == pytest.approx(6.0, rel=0.02)
    assert loss["secondary"] == pytest.approx(0.0, abs=0.01)
    assert losses(found("static-leakage", "leak-wet=6", which="truck")) == pytest.approx(
        {"primary": 0.0, "secondary": 0.0}, abs=0.01
    )


@pytest.mark.parametrize("test", ["static-leakage", "applied-leakage"])
@pytest.mark.parametrize("which", shipped())
def test_a_sound_vehicle_loses_nothing(which: str, test: TestId) -> None:
    assert max(losses(found(test, which=which)).values()) < 0.02


# --- each fault, on the test that has to find it ----------------------------------------------------------------------


def answers(test: TestId, *faults: str, which: str = "combination") -> dict[str, str]:
    return found(test, *faults, which=which).answers


def test_a_compressor_at_half_its_output_takes_twice_the_time() -> None:
    sound, weak = found("build-up"), found("build-up", "weak-compressor=0.5")
    assert sound.seconds is not None
    assert weak.seconds == pytest.approx(2 * sound.seconds, rel=0.02)  # the same air at half the rate


def test_a_build_up_that_never_comes_is_not_done() -> None:
    assert found("build-up", "governor-low=75", which="bus").not_done == "the pressure does not rise to 100 psi"


def test_build_up_is_timed_between_the_pressures_and_at_the_speed_that_were_asked() -> None:
    slow = found("build-up", manner=Manner(rise=(50.0, 90.0), rpm=650.0))
    assert min(values(slow, "from").values()) == pytest.approx(50.0, abs=0.1)
    assert min(values(slow, "to").values()) == pytest.approx(90.0, abs=0.1)
    # Model Commercial Driver License manual, section 2.1: 50 to 90 psi within 3 minutes.
    assert slow.seconds is not None
    assert 60 < slow.seconds < 180


@pytest.mark.parametrize(
    ("faults", "out", "back"),
    [((), 124, 104), (("governor-high=145",), 144, 124), (("governor-low=88",), 107, 87)],
)
def test_a_governor_out_of_adjustment_moves_cut_out_and_cut_in(
    faults: tuple[str, ...], out: float, back: float
) -> None:
    cut_out, cut_in = (values(found(test, *faults), "at") for test in ("governor-cut-out", "governor-cut-in"))
    assert min(cut_out.values()) == pytest.approx(out, abs=0.5)
    # The governor senses the wet tank; a needle stands below it by what the check valves take to open, 1 psi, and lags.
    assert min(cut_in.values()) == pytest.approx(back, abs=2.0)


def test_a_governor_that_never_unloads_ends_at_the_safety_valve() -> None:
    # California Vehicle Code 26503: the safety valve opens at not more than 150 psi.
    at = values(found("governor-cut-out", "governor-never-unloads"), "at")
    assert 140 < max(at.values()) <= 150
    assert min(values(found("governor-cut-in", "governor-never-unloads"), "at").values()) > 100


def test_a_governor_that_never_loads_again_has_no_cut_in() -> None:
    assert min(values(found("governor-cut-in", "governor-never-loads"), "at").values()) < 61


@pytest.mark.parametrize(
    ("faults", "light", "buzzer", "psi"),
    [
        ((), "on", "on", 68.0),
        (("warning-late=45",), "on", "on", 45.0),
        (("warning-light-dead",), "off", "on", 68.0),
        (("warning-buzzer-dead",), "on", "off", 68.0),
        (("warning-dead",), "off", "off", 13.0),
    ],
)
def test_the_warning_comes_when_and_how_the_fault_says(
    faults: tuple[str, ...], light: str, buzzer: str, psi: float
) -> None:
    seen = found("low-air-warning", *faults)
    assert seen.answers == {"light": light, "buzzer": buzzer}
    assert min(values(seen, "at").values()) == pytest.approx(psi, abs=2.0 if psi < 20 else 0.5)


@pytest.mark.parametrize(
    ("knob", "fault", "popped", "psi"),
    [
        ("trailer-supply", None, "yes", 40.0),
        ("trailer-supply", "trailer-knob-stays", "no", None),
        ("trailer-supply", "trailer-knob-early=60", "yes", 60.0),
        ("trailer-supply", "tractor-protection-fails", "no", None),
        ("parking-valve", None, "yes", 35.0),
        ("parking-valve", "parking-knob-stays", "no", None),
        ("parking-valve", "parking-knob-early=60", "yes", 60.0),
    ],
)
def test_knobs_pop_when_and_if_the_fault_says(knob: str, fault: str | None, popped: str, psi: float | None) -> None:
    test: TestId = "trailer-supply-pop-out" if knob == "trailer-supply" else "parking-valve-pop-out"
    seen = found(test, *([fault] if fault else []))
    assert seen.answers == {"popped": popped}
    if psi is not None:
        assert max(values(seen, "at").values()) == pytest.approx(psi, abs=1.0)


@pytest.mark.parametrize(
    ("test", "fault", "sound", "faulty"),
    [
        ("parking-brake", "parking-brake-weak", {"held": "held"}, {"held": "moved"}),
        ("trailer-brake", "trailer-brake-weak", {"held": "held"}, {"held": "moved"}),
        ("trailer-brake", "tractor-protection-fails", {"held": "held"}, {"held": "moved"}),
        ("hand-valve", "trailer-brake-weak", {"felt": "yes"}, {"felt": "no"}),
        ("service-brake", "service-brake-pulls-left", {"pull": "straight"}, {"pull": "left"}),
        ("service-brake", "service-brake-pulls-right", {"pull": "straight"}, {"pull": "right"}),
    ],
)
def test_a_brake_that_fails_is_felt(test: TestId, fault: str, sound: dict[str, str], faulty: dict[str, str]) -> None:
    assert answers(test) == sound
    assert answers(test, fault) == faulty


@pytest.mark.parametrize("which", ["truck", "bus", "tractor", "doubles"])
def test_the_parking_brake_test_finds_a_weak_one_on_every_vehicle(which: str) -> None:
    assert answers("parking-brake", which=which) == {"held": "held"}
    assert answers("parking-brake", "parking-brake-weak", which=which) == {"held": "moved"}


def test_a_sticking_needle_hides_a_leak_that_the_tank_has() -> None:
    faults = ("needle-sticks-primary=150", "leak-primary=6")
    true, shown = (found("static-leakage", *faults, manner=Manner(seen_on=seen)) for seen in ("tanks", "needles"))
    assert losses(true)["primary"] == pytest.approx(6.0, rel=0.02)
    assert losses(shown)["primary"] == 0.0


def test_a_needle_that_sticks_a_little_moves_in_jumps() -> None:
    vehicle = Vehicle.from_toml("truck", ["needle-sticks-secondary=8"], start_psi=80.0)
    for control in ("key", "engine"):
        vehicle.set(control, "on")
    jumps = set()
    for _ in range(300):
        before = vehicle.needles()["secondary"]
        vehicle.step(0.1)
        jumps.add(vehicle.needles()["secondary"] - before)
    assert {round(jump) for jump in jumps} == {0, 8}


# --- truth ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["bus", "combination"])
def test_every_test_has_a_truth_in_the_records_of_a_check(which: str) -> None:
    for test in get_args(TestId):
        seen = found(test, which=which)
        assert seen.test == test
        assert seen.not_done or seen.readings or seen.answers
        assert Observation.model_validate_json(seen.model_dump_json(), strict=False) == seen


def test_the_truth_about_a_part_that_is_not_there_says_so() -> None:
    assert found("hand-valve", which="bus").not_done == "the vehicle has no hand valve"
    assert found("trailer-supply-pop-out", which="truck").not_done == "the vehicle has no trailer knob"


def test_asking_for_the_truth_leaves_the_vehicle_alone() -> None:
    vehicle = Vehicle.from_toml("truck", ["leak-primary=5"], start_psi=33.0)
    truth(vehicle, "static-leakage")
    assert vehicle.now_s == 0.0
    assert vehicle.needles() == {"primary": 33.0, "secondary": 33.0}


def test_the_air_that_cools_after_filling_shows_as_a_loss_in_a_tight_vehicle() -> None:
    # Gay-Lussac: air that was warmed by filling loses pressure as it cools, and that is no leak.
    warm = Vehicle(load("truck"), thermal=True)
    assert max(losses(truth(warm, "static-leakage")).values()) > 0.1


# --- names and sizes --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", KINDS)
def test_every_fault_changes_the_condition_of_a_combination(name: str) -> None:
    spec = load("combination")
    assert condition_of(spec, [Fault(name)]) != Condition.sound(spec)


@pytest.mark.parametrize("name", KINDS)
def test_a_fault_is_written_as_it_is_read(name: str) -> None:
    kind = KINDS[name]
    for fault in (Fault(name), *([Fault(name, kind.high)] if kind.usual is not None else [])):
        assert Fault.parse(str(fault)) == fault


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("leak-roof=3", "Choose from leak-wet"),
        ("leak-primary=lots", "not a number"),
        ("leak-primary=0", "0.1 to 20 psi a minute"),
        ("leak-primary=nan", "0.1 to 20 psi a minute"),
        ("weak-compressor=2", "0 to 1 share"),
        ("warning-dead=5", "has no size"),
        ("", "There is no fault"),
    ],
)
def test_a_fault_that_does_not_exist_is_answered_with_what_does(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        Fault.parse(text)


@pytest.mark.parametrize("name", [name for name, kind in KINDS.items() if kind.needs == "a trailer"])
def test_a_trailer_fault_is_refused_without_a_trailer(name: str) -> None:
    with pytest.raises(BadInput, match="needs a trailer"):
        Vehicle.from_toml("truck", [name])


def test_a_leak_the_compressor_can_not_keep_up_with_is_refused() -> None:
    spec = load("bus")
    tiny = spec.model_copy(update={"compressor": spec.compressor.model_copy(update={"swept_in3": 0.5})})
    with pytest.raises(BadInput, match="Give a smaller one"):
        Vehicle(tiny, [Fault("leak-primary", 20.0)])


def test_of_two_faults_of_the_same_part_the_later_one_counts_and_leaks_add_up() -> None:
    spec = load("truck")
    late = condition_of(spec, [Fault("warning-late", 50.0), Fault("warning-late", 40.0)])
    assert late.warning_psi == 40.0
    assert set(condition_of(spec, [Fault("leak-primary"), Fault("leak-springs")]).leaks) == {"primary", "springs"}
