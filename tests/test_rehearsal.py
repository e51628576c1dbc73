"""Whole checks of the simulated vehicle: by a simulated driver, typed and spoken, and by a trainee at the keyboard.

What the vehicle really has is known here, so every verdict can be held to the truth (see vehicle/expected).
"""

from __future__ import annotations

import io
import json
import shutil
from pathlib import Path

import pytest

from assistant import standards
from assistant.cab.practice import Practice
from assistant.cab.rehearsal import Ears, TypedEars
from assistant.cab.spoken import SpokenEars, noise_of
from assistant.cli import build
from assistant.cli.app import run
from assistant.cli.automatic import Rehearsal, Run
from assistant.core.events import Heard
from assistant.core.trouble import BadInput
from assistant.ears import lexicon
from assistant.log import read, verify
from assistant.mouth.voice import Voice
from assistant.review.replay import fold
from assistant.vehicle.driver import Driver
from assistant.vehicle.expected import expected
from assistant.vehicle.faults import KINDS, Fault
from assistant.vehicle.habits import BY_THE_BOOK, Habits
from assistant.vehicle.orders import is_order, order, turns
from assistant.vehicle.scenario import Scenario
from assistant.vehicle.spec import load
from assistant.vehicle.surprise import surprise
from assistant.vehicle.tongue import by_digits, grouped
from assistant.vehicle.vehicle import Vehicle

HARD = Habits(*(2 * share for share in (0.06, 0.05, 0.03, 0.02, 0.01, 0.004, 0.04, 0.05)))


def rehearse(
    place: Path, which: str, *faults: str, seed: int = 1, habits: Habits = BY_THE_BOOK, ears: Ears | None = None
) -> Run:
    """One run, with its log checked: the chain holds, and the events give the same effects again."""
    given = [Fault.parse(fault) for fault in faults]
    vehicle = Scenario(vehicle=which).standing(given)
    done = Rehearsal(vehicle, seed, habits, ears or TypedEars(), "common-practice").run(place)
    kept = verify(Path(done.log))
    assert kept.sealed == done.finished
    assert kept.header.mode == "rehearsal"
    fold(build.dialogue_for(kept.header.setup), kept.entries)
    return done


def found(done: Run) -> dict[str, str]:
    return {test.test: test.verdict for test in done.tests}


def wrong(done: Run) -> list[str]:
    return [f"{test.test}: {test.truth}, judged {test.verdict}: {test.reason}" for test in done.tests if test.wrong]


# --- by a driver who does everything right ----------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["truck", "bus", "combination"])
def test_a_sound_vehicle_passes_every_test_of_its_class(tmp_path: Path, which: str) -> None:
    done = rehearse(tmp_path, which)
    assert set(found(done).values()) == {"pass"}
    assert done.finished
    assert done.readings_wrong == done.asks == 0


@pytest.mark.parametrize(
    ("which", "fault", "test"),
    [
        ("truck", "leak-primary=5", "static-leakage"),
        ("bus", "leak-secondary=5", "static-leakage"),
        ("truck", "leak-rear-chambers=7", "applied-leakage"),
        ("bus", "leak-front-chambers=7", "applied-leakage"),
        ("combination", "leak-trailer-line=7", "static-leakage"),
        ("combination", "leak-trailer-chambers=9", "applied-leakage"),
        ("tractor", "weak-compressor=0.4", "build-up"),
        ("truck", "governor-high=145", "governor-cut-out"),
        ("bus", "governor-low=88", "governor-cut-in"),
        ("combination", "warning-late=48", "low-air-warning"),
        ("truck", "warning-dead", "low-air-warning"),
        ("bus", "warning-light-dead", "low-air-warning"),
        ("combination", "trailer-knob-stays", "trailer-supply-pop-out"),
        ("combination", "trailer-knob-early=60", "trailer-supply-pop-out"),
        ("truck", "parking-knob-stays", "parking-valve-pop-out"),
        ("bus", "parking-knob-early=60", "parking-valve-pop-out"),
        ("truck", "parking-brake-weak=0.2", "parking-brake"),
        ("combination", "trailer-brake-weak=0.1", "trailer-brake"),
        ("bus", "service-brake-pulls-left", "service-brake"),
    ],
)
def test_a_fault_fails_the_test_that_is_there_for_it_and_nothing_is_judged_against_the_truth(
    tmp_path: Path, which: str, fault: str, test: str
) -> None:
    done = rehearse(tmp_path, which, fault)
    assert found(done)[test] == "fail"
    assert wrong(done) == []
    assert done.finished


def test_a_compressor_that_never_starts_again_leaves_the_rest_undone_and_nothing_moves(tmp_path: Path) -> None:
    verdicts = found(rehearse(tmp_path, "truck", "governor-never-loads"))
    assert verdicts["governor-cut-in"] == verdicts["static-leakage"] == verdicts["parking-brake"] == "not judged"
    assert verdicts["low-air-warning"] == "pass"


# --- by drivers who slip, ask back, pause and go back -----------------------------------------------------------------


@pytest.mark.parametrize("seed", range(18))
def test_whatever_a_driver_says_no_fault_passes_and_every_log_holds(tmp_path: Path, seed: int) -> None:
    which = ("truck", "bus", "combination")[seed % 3]
    spec = load(which)
    done = rehearse(tmp_path, which, *map(str, surprise(spec, seed)), seed=seed, habits=HARD)
    assert done.finished
    assert [test.test for test in done.tests if test.truth == "fail" and test.verdict == "pass"] == []
    assert wrong(done) == []


def test_the_same_seed_gives_the_same_check(tmp_path: Path) -> None:
    one, two = (rehearse(tmp_path, "bus", "leak-primary=3", seed=7, habits=HARD) for _ in range(2))
    events = [[(entry.t_ms, entry.event) for entry in read(Path(each.log)).entries] for each in (one, two)]
    assert events[0] == events[1]


class BadEars(TypedEars):
    """Takes a number of every third reading for another one, and misses every seventh utterance altogether."""

    def __init__(self) -> None:
        self.heard = self.readings = self.changed = 0

    def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
        self.heard += 1
        if self.heard % 7 == 0:
            return super().hear(text, at_ms)[0], []
        if text.startswith(("primary", "correction")):
            self.readings += 1
            if self.readings % 3 == 0:
                self.changed += 1
                text = text.replace("twenty", "thirty").replace("oh four", "oh eight").replace("sixteen", "ten")
        return super().hear(text, at_ms)


def test_what_is_misheard_is_corrected_after_the_read_back_and_what_is_missed_is_said_again(tmp_path: Path) -> None:
    ears = BadEars()
    done = rehearse(tmp_path, "combination", seed=3, ears=ears)
    assert ears.changed >= 3
    assert done.readings_wrong == 0
    assert wrong(done) == []
    assert done.finished


def test_a_driver_who_is_never_heard_leaves_in_the_end(tmp_path: Path) -> None:
    class Deaf(TypedEars):
        def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
            return super().hear(text, at_ms)[0], []

    done = rehearse(tmp_path, "truck", ears=Deaf())
    assert not done.finished
    assert set(found(done).values()) == {"not judged"}


# --- the driver's words -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "said"), [(122, "one twenty two"), (104, "one oh four"), (100, "one hundred"), (85, "eighty five")]
)
def test_numbers_are_said_in_groups_as_drivers_do(value: float, said: str) -> None:
    assert grouped(value) == said


def test_a_number_that_was_not_understood_is_said_digit_by_digit() -> None:
    assert by_digits(104) == "one zero four"


def test_a_driver_says_nothing_before_it_is_asked() -> None:
    driver = Driver(Vehicle.from_toml("truck"), seed=1)
    assert [driver.speak(ms) for ms in range(0, 60_000, 100)] == [None] * 600


# --- the truth, and chance --------------------------------------------------------------------------------------------


def test_what_lies_within_half_a_mark_of_the_limit_is_too_near_to_tell() -> None:
    # A loss of at most 2 psi, marks every 2 psi.
    standard = standards.load("common-practice")
    losses = {3.4: "fail", 2.5: "near", 1.5: "near", 0.8: "pass"}
    for psi, truth in losses.items():
        vehicle = Vehicle.from_toml("truck", [f"leak-primary={psi}"])
        assert expected(vehicle, standard, ["static-leakage"]) == {"static-leakage": truth}


def test_a_needle_that_sticks_hides_as_much_as_it_sticks() -> None:
    standard = standards.load("common-practice")
    vehicle = Vehicle.from_toml("truck", ["leak-primary=8", "needle-sticks-primary=8"])
    assert expected(vehicle, standard, ["static-leakage"]) == {"static-leakage": "near"}


def test_a_seed_hides_the_same_faults_again_and_all_kinds_come_up() -> None:
    spec = load("combination")
    drawn = [surprise(spec, seed) for seed in range(400)]
    assert drawn == [surprise(spec, seed) for seed in range(400)]
    assert {fault.name for faults in drawn for fault in faults} == set(KINDS)
    assert () in drawn


def test_a_surprise_never_gives_a_vehicle_what_it_can_not_have() -> None:
    spec = load("truck")
    assert all(KINDS[fault.name].fits(spec) for seed in range(200) for fault in surprise(spec, seed))


# --- a trainee at the keyboard ----------------------------------------------------------------------------------------


def test_an_order_moves_the_vehicle_and_a_report_moves_nothing() -> None:
    vehicle = Vehicle.from_toml("combination", start_psi=110.0)
    for text in ("Start the engine", "push the trailer knob", "release parking brake", "pedal down"):
        work = order(text, vehicle)
        assert work is not None
        list(work)
    signals = vehicle.signals()
    assert (signals.engine, signals.trailer_knob, signals.parking_knob) == (True, "in", "in")
    assert [order(text, vehicle) for text in ("engine running", "brakes released", "one twenty", "yes")] == [None] * 4


def test_everything_that_the_ears_expect_as_an_order_is_one() -> None:
    vehicle = Vehicle.from_toml("combination", start_psi=110.0)
    assert [turn for turn in turns() if not is_order(" ".join(turn), vehicle)] == []


@pytest.mark.parametrize(
    ("text", "pumps"),
    [
        ("pump", 1),
        ("pump 5", 5),
        ("pump the pedal five times", 5),
        ("pump gently three times", 3),
        ("pump one hundred times", 0),
        ("pump it", 0),
    ],
)
def test_pumping_is_counted_in_figures_and_in_words(text: str, pumps: int) -> None:
    work = order(text, Vehicle.from_toml("truck", start_psi=110.0))
    assert len(list(work or ())) == 2 * pumps


def test_every_order_can_be_heard_by_the_speech_model(speech_model: Path) -> None:
    known = lexicon.read(speech_model).ids
    stand_ins = build.language().stand_ins
    words = {word for turn in turns() for word in turn}
    assert {word for word in words - known.keys() if word not in stand_ins} == set()


def test_what_is_said_to_the_vehicle_does_not_go_to_the_assistant() -> None:
    done: list[str] = []
    practice = Practice(
        Vehicle.from_toml("truck", start_psi=110.0),
        understood=lambda text: text == "wheels are chocked",
        look=lambda *_: None,
        refused=done.append,
    )
    heard = ["start the engine", "wheels are chocked", "engine running", "one twenty", "start the engine, one twenty"]
    assert [practice.take(text) for text in heard] == [False, True, True, True, True]
    assert practice.take("pull hand valve") is False
    assert done
    assert "This vehicle has no hand valve." in done[0]


KEYBOARD = """brakes are set
wheels are chocked
yes
start engine
engine running
primary seventy secondary seventy
engine fast
wait 60
start
wait 50
mark
skip no time
skip no time
skip no time
skip no time
skip no time
skip no time
"""


def keyed(monkeypatch: pytest.MonkeyPatch, text: str, *arguments: str) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))
    return run(["rehearse", "--fast", *arguments])


def test_a_trainee_sees_needles_move_and_is_told_in_the_end_what_was_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keyed(monkeypatch, KEYBOARD, "--vehicle", "truck", "--fault", "weak-compressor=0.3", "--log", str(tmp_path))
    shown = capsys.readouterr().out
    assert "[primary 60, secondary 60 psi; engine off, parking knob out]" in shown
    assert "engine 1250 rpm" in shown
    assert "Beeeep: the buzzer sounds." in shown
    assert "Hidden in the vehicle: weak-compressor=0.3." in shown
    assert "Found, by: build-up." in shown
    (log,) = tmp_path.glob("*.jsonl")
    assert verify(log).header.mode == "rehearsal"


def test_a_fault_that_the_trainee_did_not_look_for_is_not_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code = keyed(
        monkeypatch, "brakes are set\n", "--vehicle", "truck", "--fault", "warning-dead", "--log", str(tmp_path)
    )
    assert code == 1
    assert "Not found. It shows in: low-air-warning." in capsys.readouterr().out


def test_an_order_that_this_vehicle_can_not_follow_is_refused_with_what_it_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keyed(monkeypatch, "pull hand valve\nyes\n", "--vehicle", "truck", "--log", str(tmp_path))
    assert "This vehicle has no hand valve." in capsys.readouterr().out.replace("\n", " ")


# --- the command ------------------------------------------------------------------------------------------------------


def test_json_gives_one_object_for_each_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--auto", "--typed", "--runs", "2", "--seed", "5", "--json", "--vehicle", "bus", "--surprise", "3"]
    run(["rehearse", *arguments, "--log", str(tmp_path)])
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["seed"] for line in lines] == [5, 6]
    assert list(lines[0]) == [
        *("seed", "vehicle", "faults", "tests", "readings_spoken", "readings_wrong", "asks"),
        *("simulated_s", "wall_s", "log"),
    ]
    assert set(lines[0]["tests"][0]) == {"test", "truth", "verdict", "reason"}
    assert all(Path(line["log"]).parent == tmp_path for line in lines)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--json"], "add --auto"),
        (["--auto", "--typed", "--voice"], "Choose one of --typed and --voice"),
        (["--auto", "--noise", "hail:10"], "The names are diesel"),
        (["--auto", "--noise", "diesel"], "as in diesel:10"),
        (["--vehicle", "sled"], "There is no vehicle sled"),
        (["--fault", "flat-tyre"], "There is no fault flat-tyre"),
        (["--auto", "--runs", "2", "--log", "one.jsonl"], "give --log a folder"),
    ],
)
def test_what_does_not_go_together_is_refused_with_what_to_do(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["rehearse", *arguments]) != 0
    assert says in capsys.readouterr().err


def test_a_chart_of_the_needles_is_saved(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    chart = tmp_path / "needles.svg"
    run(["rehearse", "--auto", "--vehicle", "bus", "--plot", str(chart), "--log", str(tmp_path)])
    assert "primary" in chart.read_text(encoding="utf-8")


# --- spoken -----------------------------------------------------------------------------------------------------------


def test_a_noise_out_of_range_is_refused() -> None:
    with pytest.raises(BadInput, match="-10 to 60"):
        noise_of("diesel:90")


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="no voice: apt-get install espeak-ng")
def test_a_driver_who_really_speaks_in_a_cab_is_understood(tmp_path: Path, speech_model: Path) -> None:
    voice = Voice()
    try:
        ears = SpokenEars(build.recogniser(speech_model), voice, noise_of("diesel:20"), seed=1)
        done = rehearse(tmp_path, "bus", "leak-primary=6", ears=ears)
    finally:
        voice.close()
    assert done.readings_wrong == 0
    assert wrong(done) == []
    assert found(done)["static-leakage"] == "fail"
    assert {entry.event.by for entry in read(Path(done.log)).entries if isinstance(entry.event, Heard)} == {"voice"}


SCENARIO = """vehicle = "bus"
start_psi = 90
[faults]
warning-dead = true
"""


def test_a_scenario_file_sets_the_vehicle_of_a_rehearsal_and_other_faults_come_on_top(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = tmp_path / "scenario.toml"
    scenario.write_text(SCENARIO, encoding="utf-8")
    options = ["rehearse", "--auto", "--scenario", str(scenario), "--fault", "leak-primary=5", "--json"]
    assert run([*options, "--log", str(tmp_path)]) == 0
    done = json.loads(capsys.readouterr().out)
    assert (done["vehicle"], done["faults"]) == ("bus", ["warning-dead", "leak-primary=5"])
    failed = {test["test"] for test in done["tests"] if test["verdict"] == "fail"}
    assert {"low-air-warning", "static-leakage"} <= failed


def test_a_scenario_file_names_its_vehicle_from_where_it_lies(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('based_on = "truck"\n', encoding="utf-8")
    scenario = tmp_path / "scenario.toml"
    scenario.write_text('vehicle = "mine.toml"\n', encoding="utf-8")
    assert Scenario.from_toml(scenario).standing().spec.vehicle_class == "truck"


def test_a_scenario_and_a_vehicle_are_not_both_taken(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rehearse", "--scenario", "x.toml", "--vehicle", "bus"]) != 0
    assert "leave out --vehicle" in capsys.readouterr().err
