"""The simulated vehicle as a driver meets it: controls, gauge, warning devices, knobs, movement, and files."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.trouble import BadInput, Trouble
from assistant.vehicle.cab import POSITIONS
from assistant.vehicle.gauge import PressureNeedle, at_mark
from assistant.vehicle.scenario import Scenario
from assistant.vehicle.spec import load, shipped
from assistant.vehicle.vehicle import MPH, STEP, Vehicle

Script = list[tuple[str, str | float, float]]
"""Control, value, and the seconds that pass afterwards."""


def run(vehicle: Vehicle, script: Script) -> list[str]:
    heard: list[str] = []
    for control, value, seconds in script:
        vehicle.set(control, value)
        heard += vehicle.step(seconds)
    return heard


def full(which: str = "combination", faults: tuple[str, ...] = (), **more: float) -> Vehicle:
    """Filled to the cut-out, all brakes released, engine off, key on, chocks in."""
    vehicle = Vehicle.from_toml(which, faults, start_psi=110.0, **more)  # type: ignore[arg-type]
    for control, value in {"parking knob": "in", "trailer knob": "in", "key": "on", "engine": "on"}.items():
        if control in vehicle.controls:
            vehicle.set(control, value)
    vehicle.set("throttle", 0.5)
    while "dryer purged" not in vehicle.step(1.0):
        assert vehicle.now_s < 300
    vehicle.set("throttle", 0.0)
    vehicle.set("engine", "off")
    vehicle.step(15.0)
    return vehicle


# --- engine, compressor, governor -------------------------------------------------------------------------------------


def test_the_engine_only_starts_with_the_key_on_and_stops_with_it() -> None:
    vehicle = Vehicle.from_toml("truck")
    run(vehicle, [("engine", "on", 1.0)])
    assert not vehicle.signals().engine
    run(vehicle, [("key", "on", 0.0), ("engine", "on", 1.0)])
    assert vehicle.signals().engine
    assert vehicle.signals().rpm == vehicle.spec.engine.idle_rpm
    run(vehicle, [("key", "off", 0.0)])
    assert not vehicle.signals().engine


def test_an_empty_vehicle_fills_purges_its_dryer_and_stays_full() -> None:
    vehicle = Vehicle.from_toml("truck")
    heard = run(vehicle, [("key", "on", 0.0), ("engine", "on", 0.0), ("throttle", 1.0, 300.0)])
    assert heard == ["dryer purged"]
    assert vehicle.pressures()["primary"] == pytest.approx(vehicle.spec.cut_out_psi - 1, abs=0.3)


def test_pumping_the_pedal_brings_the_compressor_back_at_the_cut_in_and_not_before() -> None:
    vehicle = full("bus")
    run(vehicle, [("engine", "on", 5.0)])
    while not vehicle.air.loaded:
        assert vehicle.psi("wet") > vehicle.spec.cut_in_psi
        run(vehicle, [("pedal", 0.3, 0.5), ("pedal", 0.0, 0.5)])
    before = min(vehicle.pressures().values())
    vehicle.step(20.0)
    assert min(vehicle.pressures().values()) > before


# --- warning devices and knobs ----------------------------------------------------------------------------------------


def test_the_warning_needs_the_key_and_follows_the_lower_tank() -> None:
    vehicle = full("truck", ("leak-primary=20",))
    assert not vehicle.signals().light
    while min(vehicle.pressures().values()) >= vehicle.spec.warning_psi:
        assert not vehicle.signals().buzzer
        vehicle.step(1.0)
    assert max(vehicle.pressures().values()) > vehicle.spec.warning_psi + 20
    assert vehicle.signals().light
    assert vehicle.signals().buzzer
    vehicle.set("key", "off")
    assert not vehicle.signals().light


@pytest.mark.parametrize("which", shipped())
def test_fanning_pops_the_trailer_knob_and_then_the_parking_knob_within_20_to_45_psi(which: str) -> None:
    # Model Commercial Driver License manual, section 5.3: usually 20 to 45 psi.
    vehicle = full(which)
    at: dict[str, dict[str, float]] = {}
    while vehicle.signals().parking_knob == "in":
        for pedal in (1.0, 0.0):
            vehicle.set("pedal", pedal)
            for _ in range(50):
                at |= {heard: dict(vehicle.pressures()) for heard in vehicle.step(STEP)}
    expected = (
        ["trailer knob popped", "parking knob popped"]
        if "trailer knob" in vehicle.controls
        else ["parking knob popped"]
    )
    assert list(at) == expected
    for tanks in at.values():
        assert all(20 <= psi <= 45 for psi in tanks.values())


def test_pulling_the_parking_knob_takes_the_trailer_knob_along_and_it_can_be_pushed_back() -> None:
    vehicle = full()
    assert run(vehicle, [("parking knob", "out", 1.0)]) == ["trailer knob popped"]
    assert run(vehicle, [("trailer knob", "in", 20.0)]) == []
    assert vehicle.signals().trailer_knob == "in"
    assert vehicle.signals().parking_knob == "out"


def test_a_knob_does_not_stay_in_without_air() -> None:
    vehicle = Vehicle.from_toml("combination")
    assert run(vehicle, [("parking knob", "in", 1.0)]) == ["parking knob popped"]
    assert run(vehicle, [("trailer knob", "in", 40.0)]) == ["trailer knob popped"]


@pytest.mark.parametrize("which", ["combination", "doubles", "triples"])
def test_empty_trailers_can_be_filled_from_a_full_tractor_with_the_engine_running(which: str) -> None:
    vehicle = Vehicle.from_toml(which, start_psi=120.0)
    trailer = vehicle.air.vessels["trailer-reservoir"]
    trailer.lose(trailer.content - trailer.volume * 101_325.0)
    script: Script = [("key", "on", 0.0), ("engine", "on", 0.0), ("throttle", 0.5, 0.0), ("trailer knob", "in", 240.0)]
    assert "trailer knob popped" not in run(vehicle, script)
    assert vehicle.psi("trailer-reservoir") > 100


# --- gauge ------------------------------------------------------------------------------------------------------------


def test_a_needle_covers_63_per_cent_of_a_jump_in_its_time_constant() -> None:
    needle = PressureNeedle(0.0, 0.01)
    for _ in range(30):
        needle.follow(100.0)
    assert needle.psi == pytest.approx(63.2, abs=0.1)  # 1 - 1/e, the definition of a first-order lag


def test_a_needle_rests_on_the_end_of_the_scale() -> None:
    needle = PressureNeedle(0.0, 0.02)
    for _ in range(1000):
        needle.follow(180.0)
    assert needle.psi == 150.0


@pytest.mark.parametrize(
    ("psi", "mark", "read"), [(118.9, 2.0, 118.0), (119.1, 2.0, 120.0), (62.4, 5.0, 60.0), (63, 5, 65)]
)
def test_a_person_reads_the_nearest_mark(psi: float, mark: float, read: float) -> None:
    assert at_mark(psi, mark) == read


def test_readings_are_whole_marks_of_the_needles() -> None:
    vehicle = full()
    for name, psi in vehicle.readings().items():
        assert psi % vehicle.spec.gauge_mark_psi == 0
        assert abs(psi - vehicle.needles()[name]) <= vehicle.spec.gauge_mark_psi / 2


# --- movement ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", shipped())
def test_parked_on_a_grade_of_20_per_cent_it_holds_and_on_30_it_does_not(which: str) -> None:
    # 49 CFR 571.121 S5.6: the parking brakes hold on a grade of 20 %.
    for slope, holds in ((0.20, True), (-0.20, True), (0.30, False)):
        vehicle = Vehicle.from_toml(which, start_psi=100.0, slope=slope)
        run(vehicle, [("chocks", "out", 10.0)])
        assert vehicle.signals().moving is not holds


def test_released_on_a_slope_it_rolls_down_as_newton_says_and_chocks_keep_it() -> None:
    vehicle = full("truck", slope=0.05)
    assert not vehicle.signals().moving
    run(vehicle, [("chocks", "out", 4.0)])
    acceleration = 9.80665 * (0.05 - 0.007)  # slope less rolling resistance
    assert vehicle.signals().speed_mph * MPH == pytest.approx(-4 * acceleration, rel=0.01)
    run(vehicle, [("pedal", 0.5, 10.0)])
    assert not vehicle.signals().moving


def test_brakes_stop_it_and_never_push_it_back() -> None:
    vehicle = full("truck")
    run(vehicle, [("engine", "on", 0.0), ("chocks", "out", 0.0), ("gear", "low", 10.0)])
    assert 1.0 < vehicle.signals().speed_mph < 5.0
    run(vehicle, [("gear", "neutral", 0.0), ("pedal", 1.0, 0.0)])
    for _ in range(200):
        vehicle.step(0.05)
        assert vehicle.signals().speed_mph >= 0.0
    assert not vehicle.signals().moving


@pytest.mark.parametrize(
    ("parking", "trailer", "moves"), [("in", "in", True), ("out", "in", False), ("in", "out", False)]
)
def test_a_gentle_tug_moves_it_only_when_nothing_is_set(parking: str, trailer: str, moves: bool) -> None:
    vehicle = full()
    run(vehicle, [("engine", "on", 0.0), ("parking knob", parking, 0.0), ("trailer knob", trailer, 10.0)])
    run(vehicle, [("chocks", "out", 0.0), ("gear", "low", 3.0)])
    assert vehicle.signals().moving is moves


# --- time -------------------------------------------------------------------------------------------------------------

BUSY: Script = [
    ("key", "on", 0.0),
    ("engine", "on", 0.0),
    ("throttle", 0.4, 5.0),
    ("parking knob", "in", 5.0),
    ("trailer knob", "in", 10.0),
    *[step for _ in range(6) for step in (("pedal", 1.0, 1.5), ("pedal", 0.0, 1.5))],
    ("throttle", 0.0, 3.0),
    ("pedal", 0.4, 3.0),
    ("engine", "off", 5.0),
    ("trailer knob", "out", 2.0),
    ("parking knob", "out", 2.0),
]


def trace(step_s: float, thermal: bool = False) -> list[float]:
    vehicle = Vehicle(load("combination"), start_psi=100.0, step_s=step_s, thermal=thermal)
    seen: list[float] = []
    for control, value, seconds in BUSY:
        vehicle.set(control, value)
        for _ in range(round(seconds / 0.5)):
            vehicle.step(0.5)
            seen += vehicle.needles().values()
    return seen


@pytest.mark.parametrize("thermal", [False, True])
def test_halving_the_step_moves_no_needle_by_a_fifth_of_a_psi(thermal: bool) -> None:
    coarse, fine = trace(STEP, thermal), trace(STEP / 2, thermal)
    assert max(abs(one - other) for one, other in zip(coarse, fine, strict=True)) < 0.2


def test_a_step_a_tenth_as_long_moves_no_needle_by_a_fifth_of_a_psi_either() -> None:
    coarse, fine = trace(STEP), trace(STEP / 10)
    assert max(abs(one - other) for one, other in zip(coarse, fine, strict=True)) < 0.2


def test_time_may_be_sliced_in_any_way() -> None:
    whole, sliced = (Vehicle.from_toml("bus", start_psi=80.0) for _ in range(2))
    for vehicle in (whole, sliced):
        run(vehicle, [("key", "on", 0.0), ("engine", "on", 0.0), ("throttle", 0.7, 0.0)])
    whole.step(6.0)
    for _ in range(360):
        sliced.step(1 / 60)
    assert sliced.needles() == whole.needles()


def test_the_same_vehicle_from_the_beginning_repeats_itself() -> None:
    first = Vehicle.from_toml("combination", ["leak-trailer-line=3"], start_psi=100.0, thermal=True)
    run(first, BUSY)
    second = first.another(100.0)
    run(second, BUSY)
    assert second.needles() == first.needles()
    assert second.signals() == first.signals()


def test_air_that_cools_after_an_application_brings_the_needle_back_up() -> None:
    # Expanding air cools and warms again at the walls: the needle dips below where it comes to rest.
    vehicle = Vehicle.from_toml("truck", start_psi=120.0, thermal=True)
    run(vehicle, [("pedal", 1.0, 3.0)])
    dip = vehicle.pressures()["secondary"]
    vehicle.step(180.0)
    assert vehicle.pressures()["secondary"] > dip + 0.5


# --- random scripts ---------------------------------------------------------------------------------------------------


def actions(controls: tuple[str, ...]) -> st.SearchStrategy[Script]:
    def values(control: str) -> st.SearchStrategy[str | float]:
        return st.sampled_from(POSITIONS[control]) if control in POSITIONS else st.sampled_from((0.0, 0.3, 0.7, 1.0))

    one = st.sampled_from(controls).flatmap(
        lambda control: st.tuples(st.just(control), values(control), st.floats(0.02, 6.0))
    )
    return st.lists(one, max_size=25)


CONTROLS = Vehicle.from_toml("combination").controls
LEAKS = st.sampled_from([(), ("leak-primary=5",), ("leak-springs=3",), ("leak-trailer-chambers=9",)])


@settings(max_examples=25, deadline=None)
@given(actions(CONTROLS), st.floats(0.0, 150.0), LEAKS, st.booleans())
def test_whatever_the_driver_does_air_is_neither_made_nor_lost(
    script: Script, start: float, leaks: tuple[str, ...], thermal: bool
) -> None:
    vehicle = Vehicle.from_toml("combination", leaks, start_psi=start, thermal=thermal)
    air = vehicle.air
    begun = air.content
    run(vehicle, [("key", "on", 0.0), ("engine", "on", 1.0), *script])
    assert air.content - air.taken_in + air.let_out == pytest.approx(begun, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(actions(CONTROLS), st.floats(0.0, 149.0), st.sampled_from([(), ("governor-never-unloads",), ("leak-wet=9",)]))
def test_whatever_the_driver_does_no_pressure_leaves_its_bounds(
    script: Script, start: float, faults: tuple[str, ...]
) -> None:
    vehicle = Vehicle.from_toml("combination", faults, start_psi=start)
    run(vehicle, [("key", "on", 0.0), ("engine", "on", 0.0), ("throttle", 1.0, 0.0)])
    for action in script:
        run(vehicle, [action])
        for vessel in vehicle.air.vessels.values():
            assert -1e-6 < vessel.pressure - 101_325.0 < (vehicle.spec.safety_valve_psi + 0.5) * 6894.76
        assert all(0.0 <= psi <= 150.0 for psi in vehicle.needles().values())


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.sampled_from((0.0, 0.4, 1.0)), st.floats(0.1, 8.0)), max_size=15))
def test_a_leak_in_the_primary_never_moves_the_secondary_up(pressed: list[tuple[float, float]]) -> None:
    tight, leaking = (Vehicle.from_toml("truck", faults, start_psi=120.0) for faults in ((), ("leak-primary=9",)))
    for pedal, seconds in pressed:
        for vehicle in (tight, leaking):
            run(vehicle, [("pedal", pedal, seconds)])
        assert leaking.pressures()["secondary"] <= tight.pressures()["secondary"] + 1e-6
        assert leaking.pressures()["primary"] <= tight.pressures()["primary"] + 1e-6


# --- bad input --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("control", "value", "says"),
    [
        ("clutch", "in", "no clutch"),
        ("trailer knob", "in", "no trailer knob"),
        ("parking knob", "half", "out or in"),
        ("pedal", 1.5, "from 0"),
        ("pedal", float("nan"), "from 0"),
        ("pedal", "down", "from 0"),
    ],
)
def test_a_control_or_position_that_does_not_exist_is_refused_with_what_does(
    control: str, value: str | float, says: str
) -> None:
    with pytest.raises(Trouble, match=says):
        Vehicle.from_toml("truck").set(control, value)


@pytest.mark.parametrize("seconds", [-1.0, float("nan"), float("inf")])
def test_time_never_runs_backward_or_for_ever(seconds: float) -> None:
    with pytest.raises(Trouble, match="not negative"):
        Vehicle.from_toml("truck").step(seconds)


def test_a_place_the_vehicle_does_not_have_is_refused() -> None:
    with pytest.raises(Trouble, match="trailer-line"):
        Vehicle.from_toml("truck").psi("trailer-line")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("weight_kg = ", "can't be read"),
        ('based_on = "truck"\ncut_in_psi = 140.0', "rise in this order"),
        ('based_on = "truck"\nweight_kg = -1.0', "weight_kg: Input should be greater than 0"),
        ('based_on = "truck"\nwieght_kg = 1.0', "wieght_kg"),
        ('based_on = "truck"\n[rear]\nrated_in3 = 70.0', "rear: rated_in3 has to be more"),
        ('based_on = "lorry"', "no vehicle lorry"),
        ('based_on = "mine.toml"', "based on itself"),
        ('title = "all missing"', "weight_kg: Field required"),
    ],
)
def test_a_vehicle_file_that_can_not_be_used_says_what_to_correct(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=says):
        load(path)


def test_an_unknown_vehicle_is_answered_with_the_known_ones() -> None:
    with pytest.raises(BadInput, match="bus, combination, doubles, tractor, triples, truck"):
        load("lorry")


def test_a_vehicle_file_may_name_only_what_differs(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('based_on = "combination"\n[towed]\ntrailers = 2\n', encoding="utf-8")
    spec = load(path)
    assert spec.towed is not None
    assert spec.towed.trailers == 2
    assert spec.tanks == load("combination").tanks


def test_a_scenario_sets_the_vehicle_up(tmp_path: Path) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text(
        'vehicle = "bus"\nstart_psi = 60\n[faults]\nwarning-late = 45\nparking-knob-stays = true\n', encoding="utf-8"
    )
    vehicle = Scenario.from_toml(path).standing()
    assert vehicle.spec.vehicle_class == "bus"
    assert vehicle.needles() == {"primary": 60.0, "secondary": 60.0}
    assert [str(fault) for fault in vehicle.faults] == ["warning-late=45", "parking-knob-stays"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("start_psi = 900", "start_psi"),
        ("[faults]\nleak-primary = false", "leak-primary"),
        ("[faults]\nleak-roof = 3", "no fault leak-roof"),
        ('vehicle = "boat"', "no vehicle .*boat"),
    ],
)
def test_a_scenario_that_can_not_be_used_says_why(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "scenario.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=says):
        Scenario.from_toml(path).standing()


@pytest.mark.parametrize("which", shipped())
def test_a_shipped_vehicle_describes_itself_for_the_session_log(which: str) -> None:
    record = load(which).record
    assert record.vehicle_class == which
    assert record.gauge_mark == load(which).gauge_mark_psi
