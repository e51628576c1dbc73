"""`gladhand recite` as a user gives it: typed, from a text, with help or without, and its log."""

from __future__ import annotations

import io
import json
import sys
from datetime import UTC, datetime

import pytest
from rich.console import Console

from assistant import assets
from assistant.cli import run
from assistant.core.events import Begun, Event, Heard, Setup
from assistant.log import Entry, read
from assistant.mouth.console import Captions
from assistant.review.story import Wording, tell
from tests.recital_talk import WHOLE


@pytest.fixture
def recite(monkeypatch, capsys, tmp_path):
    """Runs a recital of typed lines; gives its exit code and all that it printed."""

    def command(*arguments: str, lines: tuple[str, ...] = ()) -> tuple[int, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        monkeypatch.setenv("COLUMNS", "200")
        code = run(["recite", "--log", str(tmp_path), "--quiet", *arguments])
        return code, capsys.readouterr().out

    return command


def test_a_whole_talk_from_a_text_file_gets_every_point(recite, tmp_path) -> None:
    text = tmp_path / "talk.txt"
    text.write_text("\n".join(WHOLE), encoding="utf-8")
    code, out = recite(str(text), "--json")
    told = json.loads(out)
    assert (code, told["points"], told["unsafe"]) == (0, told["total"], [])
    assert told["verdicts"]["low-air-warning"] == "pass"


def test_the_log_of_a_recital_verifies_and_is_no_check_to_go_on_with(recite, tmp_path, capsys) -> None:
    code, _ = recite("--typed", lines=(*WHOLE[:9], "that is all"))
    log = next(tmp_path.glob("*.jsonl"))
    assert code == 1
    assert run(["replay", str(log), "--verify"]) == 0
    assert read(log).sealed
    assert run(["check", "--typed", "--resume", str(log)]) != 0
    assert "Traceback" not in capsys.readouterr().err


def test_help_comes_only_when_it_is_asked_for_and_never_in_an_examination(recite) -> None:
    asked = ("the parking brake is set", "what next")
    assert "Say that the wheels are chocked" in recite("--typed", lines=asked)[1].split("points")[0]
    assert "Say that the wheels are chocked" not in recite("--typed", "--strict", lines=asked)[1].split("points")[0]


def test_releasing_without_chocks_is_cautioned_even_in_an_examination(recite) -> None:
    out = recite("--typed", "--strict", lines=("I release the brakes", "I release the brakes"))[1]
    assert out.count("release nothing until the wheels are chocked") == 1


def test_announcing_a_move_after_a_failure_is_cautioned_even_in_an_examination(recite) -> None:
    leak = ("static leakage, i watch for one minute", "it went from one hundred to ninety psi", "that fails")
    out = recite("--typed", "--strict", lines=(*leak, "i take the chocks out"))[1]
    assert out.count("Do not move it") == 1
    assert "Not safe: the vehicle was moved, or made ready to move" in out


def test_a_wrong_limit_is_told_with_what_was_said_and_what_the_standard_says(recite) -> None:
    out = recite("--typed", lines=("low air warning", "it must come on between fifty and seventy five"))[1]
    assert "you said fifty and seventy five" in out
    assert "The limits are 55 psi and 75 psi." in out


def test_the_card_shows_the_limits_of_the_chosen_standard(recite) -> None:
    code, out = recite("--card", "--standard", "ontario", "--vehicle", "truck")
    assert code == 0
    assert "The wheels are chocked." in out


def test_two_sources_at_once_are_refused_in_one_sentence(recite) -> None:
    assert recite("--typed", "--card")[0] == 2


def test_all_that_was_said_counts_and_the_marks_name_what_to_say(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    talk = tmp_path / "talk.txt"
    talk.write_text("the governor must cut out at no more than one hundred and forty psi\n", encoding="utf-8")
    run(["recite", str(talk), "--log", str(tmp_path)])
    printed = capsys.readouterr().out
    assert "not for us" not in printed
    assert "Say that the wheels are chocked" in " ".join(printed.replace("│", " ").split())


def test_a_recital_is_no_check_in_the_history(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    talk = tmp_path / "talk.txt"
    talk.write_text("the governor cut out at one hundred and twenty psi\n", encoding="utf-8")
    run(["recite", str(talk), "--log", str(tmp_path)])
    capsys.readouterr()
    assert run(["history", str(tmp_path), "--rehearsals"]) == 0
    printed = capsys.readouterr().out
    assert "No checks" in printed
    assert "Left out: 1 for practice" in printed


def test_a_trainee_talks_while_doing_it_and_both_are_judged(tmp_path, capsys) -> None:
    faults = ("--fault", "parking-brake-weak=0.1")
    assert run(["rehearse", "--auto", "--recite", "--vehicle", "truck", *faults, "--json", "--log", str(tmp_path)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["points"] == told["total"] > 50
    verdicts = {test["test"]: test["verdict"] for test in told["tests"]}
    assert verdicts.pop("parking-brake") == "fail"
    assert verdicts.pop("service-brake") == "not judged"  # nobody rolls on a parking brake that did not hold
    assert set(verdicts.values()) == {"pass"}
    assert run(["replay", told["log"], "--verify"]) == 0


def test_what_is_typed_in_a_rehearsal_moves_the_vehicle_and_is_marked(tmp_path, capsys, monkeypatch) -> None:
    lines = ("the parking brake is set", "key on, I start the engine", "wait 5", "that is all")
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    assert run(["rehearse", "--recite", "--fast", "--vehicle", "truck", "--log", str(tmp_path)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "engine 650 rpm" in printed
    assert "Points: 2 said of 56" in printed


def test_what_was_said_freely_is_shown_and_not_what_the_grammar_makes_of_it(capsys) -> None:
    """In a check it is the other way round: there only the grammar is answered."""
    heard = Heard(text="the i'll star", open_text="i start the engine", start_ms=0, end_ms=900)
    setup = Setup(standard="common-practice", recital="asked")
    events: tuple[Event, ...] = (Begun(setup=setup), heard)
    hash_ = "0" * 64
    entries = [
        Entry(seq=at, t_ms=at, wall=datetime.now(UTC).isoformat(), mono_ns=at, event=event, effects=(), prev=hash_)
        for at, event in enumerate(events)
    ]
    told = tell(entries, Wording(assets.prompts()))
    assert [moment.text for moment in told if moment.who == "driver"] == ["i start the engine"]
    for all_counts, shown in ((True, "i start the engine"), (False, "the i'll star")):
        Captions(Console(), assets.prompts(), str, all_counts=all_counts).show(0, heard, ())
        assert shown in capsys.readouterr().out
