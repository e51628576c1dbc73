"""The commands of a whole check, as a user gives them."""

from __future__ import annotations

import io
import json
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant import assets
from assistant.cli import run
from assistant.log import read
from tests.walk import GOVERNED, HOLDING, STATIC_DONE, WHOLE

TYPED = ("check", "--typed", "--fast", "--quiet")


@pytest.fixture
def gladhand(monkeypatch, capsys):
    """Runs a command line with typed lines; gives its exit code and all that it printed."""

    def command(*arguments: str, typed: tuple[str, ...] = ()) -> tuple[int, str]:
        lines = [phrase for phrase in typed if not phrase.startswith("+")]
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        monkeypatch.setenv("COLUMNS", "200")
        code = run([str(part) for part in arguments])
        printed = capsys.readouterr()
        return code, " ".join((printed.out + printed.err).split())

    return command


def _log(folder: Path) -> Path:
    (found,) = folder.glob("*.jsonl")
    return found


def test_a_typed_check_passes_and_its_log_verifies(gladhand, tmp_path) -> None:
    code, printed = gladhand(*TYPED, "--log", str(tmp_path), typed=WHOLE)
    assert code == 0
    assert "12 passed, 0 failed" in printed
    kept = read(_log(tmp_path))
    assert kept.sealed
    code, printed = gladhand("replay", str(_log(tmp_path)), "--verify")
    assert code == 0
    assert "every verdict recomputes" in printed


def test_a_failed_check_ends_with_another_exit_code(gladhand, tmp_path) -> None:
    code, printed = gladhand(*TYPED, "--log", str(tmp_path), typed=(*WHOLE[:-2], "pulls left", "continue"))
    assert code == 1
    assert "Do not drive" in printed


def test_an_interrupted_check_goes_on_where_it_was(gladhand, tmp_path) -> None:
    code, printed = gladhand(*TYPED, "--log", str(tmp_path), typed=STATIC_DONE)
    assert code == 1
    assert "--resume" in printed
    again = ("brakes are set", "wheels are chocked", "yes", "engine running", "brakes released", "done", "engine off")
    rest = (*again, *WHOLE[len(STATIC_DONE) :])
    code, printed = gladhand(*TYPED, "--resume", str(_log(tmp_path)), typed=rest)
    assert code == 0
    assert "12 passed" in printed
    assert gladhand("replay", str(_log(tmp_path)), "--verify")[0] == 0


def test_a_hold_that_was_interrupted_starts_again_after_resuming(gladhand, tmp_path) -> None:
    gladhand(*TYPED, "--log", str(tmp_path), typed=HOLDING[:-1])
    _, printed = gladhand(*TYPED, "--resume", str(_log(tmp_path)), typed=())
    assert "The check goes on with static leakage" in printed


def test_replay_shows_what_was_said_heard_and_judged(gladhand, tmp_path) -> None:
    gladhand(*TYPED, "--log", str(tmp_path), "--fleet-number", "T-7", typed=WHOLE)
    code, printed = gladhand("replay", str(_log(tmp_path)))
    assert code == 0
    limits = ("limit: at most 140 psi", "margin: +15 psi", "source:")
    for part in ("T-7", "wheels are chocked", "PASS Applied leakage", *limits):
        assert part in printed


def test_a_changed_reading_is_found_and_named(gladhand, tmp_path) -> None:
    gladhand(*TYPED, "--log", str(tmp_path), typed=GOVERNED)
    log = _log(tmp_path)
    log.write_bytes(log.read_bytes().replace(b'"value":125.0', b'"value":120.0', 1))
    code, printed = gladhand("replay", str(log), "--verify")
    assert code == 1
    assert "line" in printed


def test_a_log_that_was_judged_otherwise_does_not_recompute(gladhand, tmp_path) -> None:
    """A whole chain with another verdict in it: only computing it again can tell."""
    from assistant.log import SessionLog

    gladhand(*TYPED, "--log", str(tmp_path / "a"), typed=GOVERNED)
    kept = read(_log(tmp_path / "a"))
    with SessionLog.create(tmp_path / "b" / "forged.jsonl", kept.header) as forged:
        for entry in kept.entries:
            text = json.dumps([effect.model_dump(mode="json") for effect in entry.effects])
            changed = json.loads(text.replace('"margin": 15.0', '"margin": 25.0'))
            effects = (
                type(entry)
                .model_validate_json(
                    entry.model_copy(update={"effects": ()})
                    .model_dump_json()
                    .replace('"effects":[]', f'"effects":{json.dumps(changed)}')
                )
                .effects
            )
            forged.append(entry.t_ms, entry.wall, entry.mono_ns, entry.event, effects)
    code, printed = gladhand("replay", str(tmp_path / "b" / "forged.jsonl"), "--verify")
    assert code == 1
    assert "does not recompute" in printed


# --- bad input -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("check", "--typed", "--standard", "moon"), 2, "Choose one of: common-practice"),
        (("check", "--typed", "--vehicle", "rickshaw"), 2, "truck, bus, tractor, combination"),
        (("check", "--typed", "--unit", "bar"), 2, "Choose one of: psi, kPa"),
        (("check", "--typed", "--gauge-mark", "-5"), 2, "above 0"),
        (("check", "--recording", "no-such-file.wav"), 4, "There is no file"),
        (("demo", "--fast", "--real-time"), 2, "Choose one of"),
        (("check", "--typed", "--resume", "no-such-log.jsonl"), 5, "no-such-log.jsonl"),
        (("replay", "no-such-log.jsonl"), 5, "no-such-log.jsonl"),
    ],
)
def test_bad_input_gets_a_sentence_and_an_exit_code(gladhand, arguments, code, says) -> None:
    left, printed = gladhand(*arguments)
    assert left == code
    assert says in printed
    assert "Traceback" not in printed


def test_sound_files_that_can_not_be_used_are_refused_with_a_reason(gladhand, tmp_path) -> None:
    text = tmp_path / "text.wav"
    text.write_text("this is no sound")
    low = tmp_path / "low.wav"
    soundfile.write(low, np.zeros(8000, np.int16), 8000)
    empty = tmp_path / "empty.wav"
    soundfile.write(empty, np.zeros(0, np.int16), 16_000)
    for file, says in ((text, "not a sound file"), (low, "8000 Hz"), (empty, "no sound"), (tmp_path, "is a folder")):
        code, printed = gladhand("check", "--recording", str(file))
        assert code == 4
        assert says in printed


def test_a_folder_that_can_not_be_written_is_named(gladhand, tmp_path) -> None:
    file = tmp_path / "file"
    file.write_text("not a folder")
    code, printed = gladhand(*TYPED, "--log", str(file / "deeper"), typed=WHOLE)
    assert code == 5
    assert str(file) in printed


# --- from sound ------------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("speech_model")
def test_the_demo_gives_exactly_the_expected_verdicts(gladhand, tmp_path) -> None:
    code, printed = gladhand("demo", "--fast", "--quiet", "--log", str(tmp_path))
    assert code == 0
    assert "11 passed, 1 failed, 0 not judged" in printed
    kept = read(_log(tmp_path))
    effects = [effect for entry in kept.entries for effect in entry.effects]
    verdicts = {effect.verdict.test: effect.verdict for effect in effects if effect.kind == "judged"}
    assert [test for test, verdict in verdicts.items() if verdict.outcome != "pass"] == ["service-brake"]
    assert verdicts["service-brake"].outcome == "fail"
    assert verdicts["governor-cut-out"].margin == 20
    assert verdicts["low-air-warning"].margin == 5
    assert verdicts["build-up"].margin == pytest.approx(45 - 7.5, abs=0.5)
    taken = {(effect.test, effect.slot): effect.readings for effect in effects if effect.kind == "take"}
    warned = [(reading.needle, reading.value) for reading in taken["low-air-warning", "at"]]
    assert warned == [("primary", 70), ("secondary", 70)], (
        "seventy two secondary seventy correction primary seventy ..."
    )
    popped = [(reading.needle, reading.value) for reading in taken["parking-valve-pop-out", "at"]]
    assert popped == [("primary", 36)], "forty six correction primary thirty six"
    assert gladhand("replay", str(_log(tmp_path)), "--verify")[0] == 0


@pytest.mark.usefixtures("speech_model")
def test_what_does_not_answer_is_asked_again_and_the_answer_counts(gladhand, tmp_path) -> None:
    folder = assets.demo().parent / "answers"
    starts = {said["text"]: said["at_ms"] for said in tomllib.loads((folder / "manifest.toml").read_text())["said"]}
    track, rate = soundfile.read(folder / "recording.flac", dtype="int16")
    spoken = (track[(starts[text] - 500) * rate // 1000 :][: 5 * rate] for text in ("it held", "brakes are set"))
    sound = tmp_path / "talk.flac"
    soundfile.write(sound, np.concatenate([np.zeros(9 * rate, np.int16), *spoken]), rate)
    gladhand("check", "--recording", str(sound), "--vehicle", "truck", "--fast", "--quiet", "--log", str(tmp_path))
    effects = [effect for entry in read(_log(tmp_path)).entries for effect in entry.effects]
    said = [line.prompt for effect in effects if effect.kind == "say" for line in effect.lines]
    assert said.index("again.not-an-answer") < said.index("ask.chocked")


@pytest.mark.usefixtures("speech_model")
def test_silence_for_minutes_ends_in_an_incomplete_check(gladhand, tmp_path) -> None:
    quiet = tmp_path / "quiet.flac"
    soundfile.write(quiet, np.zeros(180 * 16_000, np.int16), 16_000)
    code, printed = gladhand("check", "--recording", str(quiet), "--fast", "--quiet", "--log", str(tmp_path))
    assert code == 1
    assert "The recording ends here" in printed
    assert "0 passed" in printed


@pytest.mark.usefixtures("speech_model")
def test_listen_answers_one_json_object_for_each_file(capsys, tmp_path) -> None:
    folder = assets.demo().parent / "answers"
    said = tomllib.loads((folder / "manifest.toml").read_text(encoding="utf-8"))["said"]
    track, rate = soundfile.read(folder / "recording.flac", dtype="int16")
    files = []
    for number in (1, 4, 12):
        first = (said[number]["at_ms"] - 1000) * rate // 1000
        files.append(tmp_path / f"{number}.wav")
        soundfile.write(files[-1], track[first : first + 7 * rate], rate)
    files.append(tmp_path / "none.wav")
    assert run(["listen", "--json", *map(str, files)]) == 4
    chocked, corrected, both, none = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert [found["file"] for found in (chocked, corrected, both, none)] == [str(file) for file in files]
    assert (chocked["kind"], chocked["reports"]) == ("report", ["chocks-in"])
    assert corrected["readings"] == [{"needle": None, "value": 82.0, "unit": "psi"}]
    assert [(one["needle"], one["value"]) for one in both["readings"]] == [("primary", 122.0), ("secondary", 121.0)]
    assert none["kind"] == "unclear"
    assert "There is no file" in none["why"]


@pytest.mark.usefixtures("speech_model")
def test_nothing_of_a_sound_file_that_breaks_off_gets_into_the_next(capsys, tmp_path) -> None:
    whole = assets.demo().parent / "human" / "ninety-two.flac"
    torn = tmp_path / "torn.flac"
    torn.write_bytes(whole.read_bytes()[: whole.stat().st_size * 3 // 4])
    assert run(["listen", "--json", str(torn), str(whole)]) == 4
    broken, heard = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert broken["readings"] == []
    assert "damaged" in broken["why"]
    assert [one["value"] for one in heard["readings"]] == [92.0]
    utterance, length_ms = heard["utterances"][0], 1000 * soundfile.info(whole).duration
    assert 0 < utterance["start_ms"] < utterance["end_ms"] < length_ms
