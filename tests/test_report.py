"""The report of a check: what stands on the page is what stands in the log, and nobody can change that unseen."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.cli import browser, run
from assistant.core.events import Heard, Rival, Word
from assistant.log import SCHEMA, read, sound_folder
from assistant.review.results import Results
from assistant.review.spreadsheet import COLUMNS
from tests.log_sample import chained, log_of, unlinked
from tests.walk import GOVERNED, SECURED, STATIC_DONE, WHOLE, Walk

LEAKING = (*WHOLE[: WHOLE.index("primary one ten secondary one oh nine")], "primary one oh four secondary one oh nine")
GOLDEN = Path(__file__).resolve().parent / "golden"
LIMIT_BYTES = 300_000
TONE_HZ = 3000


class Rows(HTMLParser):
    """The rows of the verdict table, by test, and the text of the line about integrity."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.outcomes: dict[str, str] = {}
        self.tags: set[str] = set()
        self.integrity = ""
        self._in_seal = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        about = dict(attrs)
        self.tags.add(tag)
        if about.get("data-outcome"):
            self.outcomes[about["data-test"] or ""] = about["data-outcome"] or ""
        self._in_seal = about.get("id") == "integrity"

    def handle_data(self, data: str) -> None:
        if self._in_seal:
            self.integrity += data


def _report(log: Path, *options: str) -> tuple[int, str]:
    out = log.with_suffix(".html")
    out.unlink(missing_ok=True)
    code = run(["report", str(log), "-o", str(out), *options])
    return code, out.read_text(encoding="utf-8") if out.exists() else ""


def spoken_check(folder: Path, *, whole: bool = True) -> Path:
    """A check in which one reading was spoken, doubted by nobody, and kept as sound: a tone of TONE_HZ."""
    sound = io.BytesIO()
    tone = (8000 * np.sin(np.arange(16_000) * 2 * np.pi * TONE_HZ / 16_000)).astype(np.int16)
    soundfile.write(sound, tone, 16_000, format="FLAC", subtype="PCM_16")
    walk = Walk(*WHOLE[: WHOLE.index("one twenty five")])
    walk.wait(2)
    at = walk.now
    words = tuple(
        Word(text=text, start_ms=at + 300 * place, end_ms=at + 300 * place + 250)
        for place, text in enumerate(("one", "twenty", "five"))
    )
    heard = Heard(
        text="one twenty five",
        start_ms=at,
        end_ms=at + 900,
        words=words,
        rivals=(Rival(text="one thirty five", behind=7.5),),
        open_text="want twenty five",
        snr_db=18.0,
        sound=hashlib.sha256(sound.getvalue()).hexdigest(),
    )
    walk.feed(heard)
    walk.say(*(WHOLE[WHOLE.index("one twenty five") + 1 :] if whole else ()))
    log = log_of(walk, folder / "spoken.jsonl", sealed=whole, fleet_number="T-1042", driver="Robin Example")
    sound_folder(log).mkdir()
    (sound_folder(log) / f"{at:08d}.flac").write_bytes(sound.getvalue())
    return log


def test_the_page_has_every_test_with_the_verdict_of_the_log(tmp_path) -> None:
    walk = Walk(*LEAKING)
    code, page = _report(log_of(walk, tmp_path / "a.jsonl"))
    rows = Rows(page)
    assert code == 0
    assert {test: rows.outcomes[test] for test in walk.outcomes} == walk.outcomes
    assert set(rows.outcomes) == {test.id for test in walk.dialogue.plan.tests}
    assert rows.integrity.startswith("Verified")


def test_a_failed_test_is_a_defect_with_causes_and_without_advice_to_drive(tmp_path) -> None:
    _, page = _report(log_of(Walk(*LEAKING), tmp_path / "a.jsonl"))
    text = " ".join(page.split())
    assert "Do not drive before a qualified person" in text
    assert "Applied leakage: Lost primary 8 psi, more than 4 psi" in text
    assert "A qualified person would look at the service chambers" in text


def test_only_a_whole_check_without_a_defect_says_that_none_was_found(tmp_path) -> None:
    _, whole = _report(log_of(Walk(*WHOLE), tmp_path / "a.jsonl"))
    _, part = _report(log_of(Walk(*STATIC_DONE), tmp_path / "b.jsonl", sealed=False))
    assert "None found in this check." in whole
    assert "None found in this check." not in part
    assert "Check not complete" in part


def test_a_test_that_was_opened_again_shows_no_old_verdict(tmp_path) -> None:
    walk = Walk(*GOVERNED, "go back")
    _, page = _report(log_of(walk, tmp_path / "a.jsonl", sealed=False))
    assert "governor-cut-in" not in walk.outcomes
    assert Rows(page).outcomes["governor-cut-in"] == "not judged"


def test_the_page_is_self_contained_and_small(tmp_path) -> None:
    _, page = _report(log_of(Walk(*WHOLE), tmp_path / "a.jsonl"))
    assert "script" not in Rows(page).tags
    addresses = re.findall(r"""(?:src|href|action|url)\s*[=(]\s*["']?([^"')>\s]+)""", page)
    assert all(address.startswith(("#", "data:")) for address in addresses), addresses
    assert len(page.encode()) <= LIMIT_BYTES


def test_what_a_person_typed_is_text_and_nothing_else(tmp_path) -> None:
    log = log_of(Walk(*WHOLE), tmp_path / "a.jsonl", driver="<script>alert(1)</script>", fleet_number='"><b>')
    _, page = _report(log)
    assert "script" not in Rows(page).tags
    assert "&lt;script&gt;alert(1)" in page


def test_a_changed_byte_anywhere_turns_the_line_about_integrity(tmp_path) -> None:
    log = log_of(Walk(*STATIC_DONE), tmp_path / "a.jsonl")
    whole = log.read_bytes()
    begun = whole.index(b"\n", whole.index(b"\n") + 1)
    step = len(whole) // 40
    for place in [*range(7, len(whole), step), begun + 1, len(whole) - 2]:
        log.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        code, page = _report(log)
        assert code != 0, place
        if place > begun:
            assert Rows(page).integrity.startswith("NOT VERIFIED"), place
        else:
            assert page == "", place  # nothing is known of a check whose beginning does not hold


def test_what_stands_behind_a_fault_is_not_shown(tmp_path) -> None:
    log = log_of(Walk(*WHOLE), tmp_path / "a.jsonl")
    log.write_bytes(log.read_bytes().replace(b'"value":102.0', b'"value":103.0', 1))
    _, page = _report(log)
    outcomes = Rows(page).outcomes
    assert outcomes["governor-cut-out"] == "pass"
    assert outcomes["governor-cut-in"] == "not judged"
    assert "103 psi" not in page


def test_a_changed_or_missing_sound_turns_the_line_about_integrity(tmp_path) -> None:
    log = spoken_check(tmp_path)
    assert Rows(_report(log)[1]).integrity.startswith("Verified")
    (flac,) = sound_folder(log).glob("*.flac")
    flac.write_bytes(flac.read_bytes()[:-1] + b"\0")
    code, page = _report(log)
    assert (code, "1 have changed" in Rows(page).integrity) == (1, True)
    assert "nothing here is proven" in page
    assert "None found in this check." not in page
    flac.unlink()
    assert "1 are missing" in Rows(_report(log)[1]).integrity


def test_the_timeline_has_both_decodes_the_doubt_and_the_sound_that_can_be_left_out(tmp_path) -> None:
    log = spoken_check(tmp_path)
    _, page = _report(log)
    for part in ("one twenty five", "want twenty five", "one thirty five", "7.5 nats behind", "data:audio/flac"):
        assert part in page
    assert "data:audio" not in _report(log, "--no-sound")[1]
    assert "7.5 nats" not in _report(log, "--no-timeline")[1]


def test_json_follows_the_published_schema_and_csv_has_the_same_values(tmp_path, capsys) -> None:
    log = log_of(Walk(*LEAKING), tmp_path / "a.jsonl", fleet_number="=1+1", driver="-Robin")
    assert run(["report", str(log), "--json"]) == 0
    found = Results.model_validate_json(capsys.readouterr().out)
    assert run(["report", "--schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert set(schema["properties"]) == set(found.model_dump())
    assert run(["report", str(log), "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert tuple(rows[0]) == COLUMNS
    assert [(row["test"], row["outcome"]) for row in rows] == [(test.test, test.outcome) for test in found.tests]
    leak = next(row for row in rows if row["test"] == "applied-leakage")
    assert (float(leak["value"]), float(leak["margin"]), leak["margin_unit"]) == (8.0, -4.0, "psi")
    assert (rows[0]["fleet_number"], rows[0]["driver"]) == ("'=1+1", "'-Robin")


def test_a_correction_is_told_with_what_it_replaced_it_with(tmp_path, capsys) -> None:
    log = log_of(Walk(*GOVERNED[:-1], "correction one thirty"), tmp_path / "a.jsonl", sealed=False)
    _, page = _report(log)
    assert "corrected to 130 psi" in page
    capsys.readouterr()
    run(["report", str(log), "--json"])
    tests = json.loads(capsys.readouterr().out)["tests"]
    cut_out = next(test for test in tests if test["test"] == "governor-cut-out")
    assert (cut_out["value"], cut_out["corrections"]) == (130.0, 1)


def test_a_correction_in_one_breath_is_told_in_its_words(tmp_path) -> None:
    _, page = _report(log_of(Walk(*SECURED, "ninety two correction eighty two"), tmp_path / "a.jsonl", sealed=False))
    told = page[page.index("Asked again, corrected") :]
    assert "in one breath: \u201cninety two correction eighty two\u201d" in told[: told.index("How far to rely")]


def test_limits_that_have_changed_since_are_said_and_not_drawn(tmp_path) -> None:
    log = log_of(Walk(*GOVERNED), tmp_path / "a.jsonl")
    bodies = unlinked(log.read_bytes())
    bodies[0] = re.sub(r'("standard":)"[0-9a-f]{64}"', rf'\1"{"0" * 64}"', bodies[0])
    log.write_bytes(chained(bodies))
    _, page = _report(log)
    assert "Changed in the program since this check: standard" in page
    assert Rows(page).integrity.startswith("Verified")


def test_without_a_browser_a_pdf_is_refused_with_what_to_do(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.delenv(browser.VARIABLE, raising=False)
    if browser.find() is not None:
        pytest.skip("a browser is installed where PATH does not matter")
    assert run(["report", str(log_of(Walk(*GOVERNED), tmp_path / "a.jsonl")), "--pdf"]) == 3
    assert "print it from any browser" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("options", "code", "part"),
    [(("--pdf", "--csv"), 2, "Choose one"), ((), 2, "Name the session log"), (("no.jsonl",), 5, "no.jsonl")],
)
def test_wrong_use_of_report_is_a_sentence(options, code, part, capsys) -> None:
    assert run(["report", *options, *(["x.jsonl"] if "--csv" in options else [])]) == code
    assert part in capsys.readouterr().err


def test_replay_shows_only_the_failed_test_or_begins_at_a_test(tmp_path, capsys) -> None:
    log = str(log_of(Walk(*LEAKING), tmp_path / "a.jsonl"))
    run(["replay", log, "--only", "failed"])
    printed = capsys.readouterr().out
    assert "FAIL" in printed
    assert "Governor cut-in" not in printed
    run(["replay", log, "--from", "governor-cut-in"])
    printed = capsys.readouterr().out
    assert "Governor cut-in" in printed
    assert "Build-up" not in printed


def test_replay_by_another_standard_shows_what_changes(tmp_path, capsys, monkeypatch) -> None:
    """A cut-out of 140 psi: passes by common practice, fails California's "below 130" (California handbook, 2013)."""
    monkeypatch.setenv("COLUMNS", "160")
    log = str(log_of(Walk(*GOVERNED[:-2], "one forty", "one oh two"), tmp_path / "a.jsonl"))
    assert run(["replay", log, "--standard", "california"]) == 0
    rows = [line for line in capsys.readouterr().out.splitlines() if "Governor cut-out" in line]
    assert ["pass" in rows[0], "fail" in rows[0], "changed" in rows[0]] == [True, True, True]


def test_replay_shows_the_doubts_and_verify_finds_a_changed_sound(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    log = spoken_check(tmp_path)
    run(["replay", str(log)])
    printed = capsys.readouterr().out
    assert "want twenty five" in printed
    assert "7.5 nats behind" in printed
    assert run(["replay", str(log), "--verify"]) == 0
    assert "1 kept utterances have the hash" in capsys.readouterr().out
    (flac,) = sound_folder(log).glob("*.flac")
    flac.write_bytes(b"fLaC")
    assert run(["replay", str(log), "--verify"]) == 1
    assert "1 have changed" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("golden", sorted(GOLDEN.glob("*.jsonl")), ids=lambda path: path.stem)
def test_a_log_of_every_version_gives_its_verdicts_for_ever(golden, tmp_path) -> None:
    """What was judged then is what the report shows, whatever limits and wording are now."""
    log = tmp_path / golden.name
    log.write_bytes(golden.read_bytes())
    _, page = _report(log)
    outcomes = Rows(page).outcomes
    shown = {test: outcomes[test] for test in ("build-up", "governor-cut-out", "governor-cut-in")}
    assert shown == {"build-up": "pass", "governor-cut-out": "pass", "governor-cut-in": "pass"}
    assert "130 psi" in page
    assert read(log).head == "07445de6"


def test_there_is_a_golden_log_of_this_version() -> None:
    assert (GOLDEN / f"schema-{SCHEMA}.jsonl").is_file()


def test_a_day_that_no_calendar_has_is_a_sentence_and_a_leap_second_is_none(tmp_path, capsys) -> None:
    """RFC 3339, 5.7: second 60 is legal."""
    first = log_of(Walk(*GOVERNED), tmp_path / "a.jsonl", created="2026-06-30T23:59:59.250+00:00").read_bytes()
    bodies = unlinked(first)
    for day, code in (("2026-06-30T23:59:60Z", 0), ("2026-02-31T10:00:00Z", 5)):
        bodies[0] = re.sub(r'"created":"[^"]*"', f'"created":"{day}"', bodies[0])
        log = tmp_path / f"{code}.jsonl"
        log.write_bytes(chained(bodies))
        assert run(["report", str(log)]) == code
    assert "which no calendar has" in " ".join(capsys.readouterr().err.split())


def test_a_rehearsal_says_so_and_has_nothing_to_sign(tmp_path) -> None:
    bodies = unlinked(log_of(Walk(*WHOLE), tmp_path / "a.jsonl").read_bytes())
    bodies[0] = bodies[0].replace('"mode":"typed"', '"mode":"rehearsal"')
    log = tmp_path / "b.jsonl"
    log.write_bytes(chained(bodies))
    _, page = _report(log)
    assert "a rehearsal on a simulated vehicle, no real one" in page
    assert "For the inspection report" not in page


def test_each_test_has_one_place_in_the_timeline(tmp_path) -> None:
    """Also where one answer judged several tests at once, as after a failure that bars the vehicle from moving."""
    phrases = [phrase for phrase in LEAKING if phrase != WHOLE[-1]]
    after = WHOLE[WHOLE.index("primary one ten secondary one oh nine") + 1 :]
    _, page = _report(log_of(Walk(*phrases, *after[:3]), tmp_path / "a.jsonl", sealed=False))
    names = re.findall(r"<summary>[0-9:]+ <b>([^<]+)</b>", page)
    assert len(names) > 8
    assert len(set(names)) == len(names)


# --- of a recital -----------------------------------------------------------------------------------------------------


RECITED = ("the low air warning", "it must come on between fifty and seventy five psi", "it came on at sixty one psi")


@pytest.fixture
def recited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join((*RECITED, "that is all")) + "\n"))
    run(["recite", "--typed", "--vehicle", "truck", "--log", str(tmp_path / "recited.jsonl")])
    return tmp_path / "recited.jsonl"


def test_the_page_of_a_recital_has_every_mark_with_its_words_and_the_right_limit_beside_a_wrong_one(recited) -> None:
    code, page = _report(recited)
    marks = dict(re.findall(r'data-element="([^"]+)" data-mark="([^"]+)"', page))
    assert code == 0
    assert (marks["low-air-warning.name"], marks["low-air-warning.limit"]) == ("said", "wrong")
    assert (marks["low-air-warning.reading"], marks["build-up.name"]) == ("said", "missed")
    assert "you said fifty and seventy five psi" in page
    assert "The limits are 55 psi and 75 psi." in page
    assert "Verified: all" in Rows(page).integrity
    assert "script" not in Rows(page).tags


def test_a_changed_recital_gets_its_page_too_and_says_so(recited) -> None:
    recited.write_bytes(recited.read_bytes().replace(b"sixty one", b"sixty two"))
    code, page = _report(recited)
    assert code == 1
    assert Rows(page).integrity.startswith("NOT VERIFIED")


def test_the_marks_of_a_recital_are_no_results_of_a_check(recited, capsys) -> None:
    assert run(["report", str(recited), "--csv"]) != 0
    assert "leave them out" in capsys.readouterr().err
