"""`gladhand judge`, `limits` and `standards`, as a person or a program at the command line meets them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from observed import STANDARDS
from typer.testing import CliRunner, Result

from assistant import standards
from assistant.cli import app
from assistant.core.trouble import BadInput, Trouble


def run(*words: str) -> Result:
    return CliRunner().invoke(app(), list(words), env={"COLUMNS": "200", "NO_COLOR": "1"})


def told(*words: str) -> Any:
    """What a command prints as JSON."""
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output or result.exception
    return json.loads(result.stdout)


def trouble(*words: str) -> Trouble:
    error = run(*words).exception
    assert isinstance(error, Trouble), error
    return error


def test_a_reading_is_judged_by_the_default_standard_and_class() -> None:
    verdict = told("judge", "low-air-warning", "--reading", "57")
    assert verdict["verdict"] == "pass"
    assert (verdict["standard"], verdict["vehicle"]) == ("common-practice", "combination")
    assert verdict["limit"] == "from 55 to 75 psi"
    assert (verdict["margin"], verdict["unit"]) == (2.0, "psi")
    assert verdict["source"] == "common practice, no source"
    assert verdict["reason"] == "57 psi; the limits are 55 psi and 75 psi."


def test_a_hold_and_a_rise_take_two_readings_and_a_time() -> None:
    leak = told("judge", "applied-leakage", "--from", "118", "--to", "115.5", "--seconds", "60")
    assert (leak["verdict"], leak["margin"]) == ("pass", 1.5)
    build_up = told("judge", "build-up", "--from", "85", "--to", "100", "--seconds", "46")
    assert (build_up["verdict"], build_up["margin"], build_up["unit"]) == ("fail", -1.0, "s")
    assert build_up["consequence"] == "must-not-drive"
    assert build_up["causes"]


def test_standard_class_unit_and_needles_can_be_chosen() -> None:
    # Quebec, C-24.2, r. 32, s. 166(5): more than 40 kPa in a single vehicle
    words = ("judge", "applied-leakage", "--from", "primary=820", "--from", "secondary=815", "--to", "primary=810")
    words += ("--to", "secondary=774", "--seconds", "60", "--unit", "kPa", "--standard", "quebec", "--vehicle", "truck")
    verdict = told(*words)
    assert (verdict["verdict"], verdict["needle"], verdict["margin"]) == ("fail", "secondary", -1.0)


def test_devices_answers_and_what_was_not_done_are_judged() -> None:
    # 49 CFR 571.121 S5.1.5: a buzzer alone is not enough
    warning = ("judge", "low-air-warning", "--reading", "65", "--light", "off", "--buzzer", "on")
    assert told(*warning, "--standard", "us-federal")["verdict"] == "fail"
    assert told(*warning, "--standard", "us-federal", "--built", "before March 1975")["verdict"] == "pass"
    assert told("judge", "parking-brake", "--held", "moved")["verdict"] == "fail"
    assert told("judge", "hand-valve", "--felt", "yes")["verdict"] == "pass"
    assert told("judge", "service-brake", "--pull", "left")["reason"] == "It pulled to the left."
    assert told("judge", "parking-valve-pop-out", "--popped", "no")["verdict"] == "fail"
    opened = ("judge", "trailer-supply-pop-out", "--reading", "52", "--lines", "open")
    assert told(*opened, "--standard", "alberta")["verdict"] == "pass"
    assert told("judge", "hand-valve", "--not-done", "not-fitted")["verdict"] == "not judged"


def test_what_was_measured_before_and_what_the_vehicle_is_count() -> None:
    # 49 CFR 393.51(c)(2), memory: half the cut-out if that is less than 55 psi
    old = ("judge", "low-air-warning", "--reading", "52.5", "--standard", "us-federal", "--built", "before March 1975")
    assert told(*old)["verdict"] == "not judged"
    assert told(*old, "--cut-out", "105")["verdict"] == "pass"
    assert told("judge", "governor-cut-in", "--reading", "125", "--cut-out", "120")["verdict"] == "not judged"
    assert told("judge", "low-air-warning", "--reading", "70", "--cut-in", "65")["verdict"] == "not judged"
    # 49 CFR 571.121 S5.1.1: 25 x 7000 / 5568 = 31.43 s
    federal = ("judge", "build-up", "--seconds", "31", "--standard", "us-federal")
    assert told(*federal)["verdict"] == "not judged"
    assert told(*federal, "--tank-volume", "7000", "--chamber-volume", "464")["verdict"] == "pass"


def test_a_coarse_gauge_a_range_and_the_figure_of_the_maker_count() -> None:
    assert told("judge", "low-air-warning", "--reading", "57", "--gauge-mark", "5")["verdict"] == "not judged"
    assert told("judge", "low-air-warning", "--reading", "57", "--within", "2.5")["verdict"] == "not judged"
    maker = ("--maker-at-least", "65", "--maker-at-most", "80", "--maker-where", "page 12")
    verdict = told("judge", "low-air-warning", "--reading", "62", *maker)
    assert (verdict["verdict"], verdict["source"]) == ("fail", "page 12")


def test_all_standards_are_told_side_by_side() -> None:
    verdicts = told("judge", "low-air-warning", "--reading", "57", "--all-standards")
    assert [verdict["standard"] for verdict in verdicts] == list(STANDARDS)
    by_id = {verdict["standard"]: verdict["verdict"] for verdict in verdicts}
    assert (by_id["cdl-manual"], by_id["cdl-manual-skills-test"], by_id["ontario"]) == ("fail", "pass", "pass")
    shown = run("judge", "low-air-warning", "--reading", "57", "--all-standards").stdout
    assert all(name in shown for name in STANDARDS)


def test_a_verdict_is_told_to_a_person_with_limit_source_consequence_and_causes() -> None:
    shown = run("judge", "low-air-warning", "--reading", "50").stdout
    for part in ("fail", "50 psi, below 55 psi", "Limit: from 55 to 75 psi", "common practice", "must not be driven"):
        assert part in shown
    assert "qualified person" in shown
    assert "not law" in shown


def test_a_figure_from_memory_says_so() -> None:
    leak = ("judge", "applied-leakage", "--from", "118", "--to", "117", "--seconds", "60")
    verdict = told(*leak, "--standard", "british-columbia")
    assert "from memory, not checked" in verdict["source"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("judge", "brakes"), 'no test "brakes". Choose one of: build-up'),
        (("judge", "build-up", "--standard", "mars"), 'no standard "mars". Choose one of: common-practice'),
        (("judge", "build-up", "--vehicle", "van"), 'no vehicle class "van". Choose one of: truck'),
        (("judge", "build-up", "--built", "1999"), 'no build date "1999"'),
        (("judge", "build-up", "--absent", "roof"), 'no part "roof"'),
        (("judge", "build-up", "--unit", "bar"), 'no unit "bar". Choose one of: psi, kPa'),
        (("judge", "low-air-warning", "--reading", "high"), '"high" is no reading'),
        (("judge", "low-air-warning", "--reading", "nan"), '"nan" is no reading'),
        (("judge", "low-air-warning", "--reading", "left=60"), '"left=60" is no reading'),
        (("judge", "low-air-warning", "--from", "60"), "says nothing about low-air-warning. It takes: --reading"),
        (("judge", "parking-brake", "--reading", "60"), "It takes: no reading"),
        (("judge", "low-air-warning", "--light", "dim"), "Choose one of: on, off"),
        (("judge", "build-up", "--seconds", "-1"), "--seconds has to be a number, 0 or more"),
        (("judge", "build-up", "--seconds", "inf"), "--seconds has to be a number"),
        (("judge", "build-up", "--gauge-mark", "0"), "--gauge-mark has to be a number above 0"),
        (("limits", "--standard", "mars"), 'no standard "mars"'),
        (("limits", "--vehicle", "van"), 'no vehicle class "van"'),
        (("standards", "--standards-folder", "/nowhere/at/all"), "is not a folder"),
    ],
)
def test_a_wrong_word_is_answered_with_what_is_right(words, sentence) -> None:
    assert sentence in str(trouble(*words))


def test_a_reading_that_no_gauge_shows_is_not_judged() -> None:
    verdict = told("judge", "low-air-warning", "--reading", "300")
    assert verdict["verdict"] == "not judged"
    assert "300 psi" in verdict["reason"]


def test_limits_are_listed_in_order_with_source_and_sureness() -> None:
    listed = told("limits", "--standard", "ontario", "--vehicle", "truck")
    assert listed["order"] == [limit["test"] for limit in listed["limits"]]
    warning = next(limit for limit in listed["limits"] if limit["test"] == "low-air-warning")
    assert warning["at_least"] == {"psi": 55.0, "kPa": 380.0}
    assert (warning["comparison"], warning["sure"], warning["law"]) == ("at least", "official", False)
    assert "chapter 10" in warning["source"]
    assert listed["not_part"]["static-leakage"]
    assert listed["before_moving"]["pressure"] == {"psi": 100.0}


def test_limits_depend_on_class_and_build_date() -> None:
    def cut_in(*words: str) -> list[str]:
        limits = told("limits", "--standard", "us-federal", *words)["limits"]
        return [limit["limit"] for limit in limits if limit["test"] == "governor-cut-in"]

    assert cut_in("--vehicle", "truck") == ["at least 100 psi"]
    assert cut_in("--vehicle", "bus") == ["at least 85 psi"]
    assert cut_in("--vehicle", "truck", "--built", "March 1975 to February 1997") == []


@pytest.mark.parametrize("name", STANDARDS)
def test_limits_are_shown_to_a_person_with_everything_that_is_not_part(name) -> None:
    shown = run("limits", "--standard", name).stdout
    assert STANDARDS[name].title in shown
    assert "Before moving: at least 100 psi" in shown
    assert shown.count("Not part:") == len(STANDARDS[name].not_part)


def test_the_schema_is_published() -> None:
    schema = json.loads(run("limits", "--schema").stdout)
    assert schema["title"] == "Standard"
    assert "rise_from" not in json.dumps(schema)


def test_a_file_with_mistakes_is_explained_and_refused(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('id = "own"\nkind = "rule"\n')
    result = run("limits", "--check", str(path))
    assert isinstance(result.exception, BadInput)
    assert "line 2, kind: 'rule' is none of" in result.stdout
    assert "line 1, title: is missing" in result.stdout
    assert "listed above" in str(result.exception)


def test_a_shipped_file_has_no_mistake() -> None:
    for entry in standards.shelf():
        assert "no mistake" in run("limits", "--check", str(entry.path)).stdout


def test_standards_are_listed_with_edition_date_and_what_a_result_means() -> None:
    listed = told("standards")
    assert [entry["id"] for entry in listed] == list(STANDARDS)
    assert [entry["id"] for entry in listed if entry["default"]] == ["common-practice"]
    for entry in listed:
        assert entry["edition"]
        assert entry["date"]
        assert entry["meaning"]
    shown = run("standards").stdout
    assert all(name in shown for name in STANDARDS)


def test_a_broken_file_of_ones_own_is_listed_as_not_usable(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("id = 3\n")
    broken = told("standards", "--standards-folder", str(tmp_path))[-1]
    assert broken["mistakes"][0].startswith("line 1")
    assert "Not usable" in run("standards", "--standards-folder", str(tmp_path)).stderr
