"""The recitals of a trainee in the history: marks over time, and what is left out most."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli import run
from assistant.review.history.trainee import recited
from tests.recital_talk import WHOLE


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """Three recitals of two trainees: Robin says ever more, Sam says nearly nothing."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("COLUMNS", "250")
    for name, lines in (("Robin Example", WHOLE[:4]), ("Robin Example", WHOLE), ("Sam Example", WHOLE[3:4])):
        talk = tmp_path / "talk.txt"
        talk.write_text("\n".join(lines), encoding="utf-8")
        run(["recite", str(talk), "--quiet", "--driver", name, "--log", str(tmp_path / "logs")])
    capsys.readouterr()
    return tmp_path / "logs"


def test_the_marks_of_each_trainee_stand_in_their_order_with_what_was_missed(folder, capsys) -> None:
    assert run(["history", str(folder), "--json"]) == 0
    robin, sam = json.loads(capsys.readouterr().out)["trainees"]
    assert (robin["name"], sam["name"]) == ("Robin Example", "Sam Example")
    shares = [sitting["share"] for sitting in robin["recitals"]]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert all(count == 1 for _, count in robin["missed"])
    assert dict(sam["missed"])["fact.parked"] == 1


def test_recitals_are_told_in_words_and_can_be_chosen_by_trainee(folder, capsys) -> None:
    assert run(["history", str(folder), "--driver", "Sam Example"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "say that the parking brake is set (1)" in told.lower()
    assert "Robin" not in told
    assert "No checks" in told


def test_the_page_draws_the_marks_of_whoever_talked_more_than_once(folder, tmp_path) -> None:
    page = tmp_path / "history.html"
    assert run(["history", str(folder), "--html", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert text.count("data-trainee=") == 2
    assert text.count("points in percent of what could be had, recital by recital") == 1


def test_a_recital_without_a_debrief_has_no_marks() -> None:
    assert recited(()) is None
