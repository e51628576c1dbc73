"""The report: what it says of a log, and what it says when the log can't be believed."""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.cli import app, run
from assistant.core.events import Begun
from assistant.log import SessionLog, proven
from tests.walk import APPLIED_HOLDING, GOVERNED, JUDGED, ROLLING, WHOLE, Walk

FAILING = (*APPLIED_HOLDING, "+60", "primary one oh six secondary one oh nine", "sixty two light and buzzer on")
FAILED = (*FAILING, "trailer knob popped at thirty eight", "parking knob popped at thirty two", "continue")


def kept(folder: Path, *phrases: str) -> Path:
    """The log of a typed check."""
    from assistant.cli.automatic import header

    walk = Walk(*phrases)
    log = SessionLog.create(folder, header(walk.setup))
    for at_ms, event, effects in walk.events:
        log.append(at_ms, "2026-11-25T08:00:00.000+00:00", at_ms * 1_000_000, event, effects)
    log.seal() if walk.state.mode == "closed" else log.close()
    return log.path


def told(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(app(), ["report", *words])
    return result.exit_code, result.output


def page(log: Path, *options: str) -> str:
    out = log.with_suffix(".html")
    run(["report", str(log), "-o", str(out), *options])
    return out.read_text(encoding="utf-8")


def test_a_whole_check_is_reported_with_every_verdict_its_limit_and_its_source(tmp_path) -> None:
    text = page(kept(tmp_path, *WHOLE))
    assert "Every test passed" in text
    assert "The log is whole." in text
    assert text.count('<td class="outcome">pass</td>') == 12
    for part in ("at most 140 psi", "+15 psi", "common practice, no source", "primary 122, secondary 121 psi"):
        assert part in text


def test_a_failed_test_comes_with_its_causes_and_goes_into_the_defect_record(tmp_path) -> None:
    text = page(kept(tmp_path, *FAILED))
    assert "Do not drive" in text
    assert "For a qualified person to look at" in text
    record = text[text.index("Defect record") :]
    assert "Applied leakage: Lost primary 6 psi" in record
    assert "Service brake" in record  # not judged, and said so


def test_the_data_say_what_the_page_says(tmp_path) -> None:
    code, output = told(str(kept(tmp_path, *FAILED)), "--json")
    assert code == 0
    found = json.loads(output)
    assert found["trust"]["recomputed"] is True
    leak = next(one for one in found["findings"] if one["test"] == "applied-leakage")
    assert (leak["outcome"], leak["margin"], leak["unit"]) == ("fail", -2.0, "psi")
    assert [one["value"] for one in leak["readings"]["last"]] == [106.0, 109.0]
    assert leak["causes"]
    assert found["complete"] is True


def test_the_table_has_a_row_for_each_test(tmp_path) -> None:
    code, output = told(str(kept(tmp_path, *WHOLE)), "--csv")
    rows = list(csv.DictReader(io.StringIO(output)))
    assert code == 0
    assert len(rows) == 12
    assert rows[1]["readings"] == "at 125 psi"


def test_the_schema_of_the_data_is_published() -> None:
    code, output = told("--schema")
    assert code == 0
    assert {"findings", "trust", "standard"} <= set(json.loads(output)["properties"])


def test_a_test_that_was_not_reached_is_no_pass(tmp_path) -> None:
    text = page(kept(tmp_path, *GOVERNED))
    assert "Not complete" in text
    assert "not reached" in text
    assert "The log is whole." not in text


def test_a_verdict_that_was_given_up_by_going_back_is_not_reported(tmp_path) -> None:
    code, output = told(str(kept(tmp_path, *ROLLING, "pulls left", "go back")), "--json")
    service = json.loads(output)["findings"][-1]
    assert (code, service["test"], service["outcome"]) == (0, "service-brake", None)
    assert service["judged_times"] == 1


@pytest.mark.parametrize("place", [0.02, 0.3, 0.6, 0.9, 0.999])
def test_a_changed_byte_anywhere_turns_what_is_said_of_the_log(tmp_path, place) -> None:
    log = kept(tmp_path, *WHOLE)
    content = bytearray(log.read_bytes())
    at = next(at for at in range(int(place * len(content)), len(content)) if chr(content[at]).isdigit())
    content[at] = ord("1") if content[at] != ord("1") else ord("2")
    log.write_bytes(bytes(content))
    session, fault = proven(log)
    assert fault is not None
    if session.entries:
        text = page(log)
        assert "The log does not hold." in text
        assert "The log is whole." not in text
    assert told(str(log))[0] != 0


def test_only_what_stands_before_the_fault_is_shown(tmp_path) -> None:
    log = kept(tmp_path, *WHOLE)
    log.write_bytes(log.read_bytes().replace(b'"value":125.0', b'"value":120.0', 1))
    text = page(log)
    assert "120 psi" not in text
    assert "The log does not hold." in text


def test_a_verdict_that_does_not_come_out_again_is_told(tmp_path) -> None:
    from assistant.cli.automatic import header
    from assistant.core.events import Judged

    walk = Walk(*WHOLE)
    log = SessionLog.create(tmp_path, header(walk.setup))
    for at_ms, event, effects in walk.events:
        changed = tuple(
            one.model_copy(update={"verdict": one.verdict.model_copy(update={"margin": 99.0})})
            if isinstance(one, Judged) and one.verdict.test == "governor-cut-out"
            else one
            for one in effects
        )
        log.append(at_ms, "2026-11-25T08:00:00.000+00:00", at_ms * 1_000_000, event, changed)
    log.seal()
    text = page(log.path)
    assert "The log does not hold." in text
    assert "does not recompute" in text


class _Page(HTMLParser):
    """What the page would load, the headings in order, and the data of the charts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.headings: list[str] = []
        self.marks: list[dict[str, str | None]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        about = dict(attrs)
        self.loads += [about[key] or "" for key in ("src", "href", "srcset") if key in about]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(tag)
        if "data-value" in about or "data-first" in about or tag == "script":
            self.marks.append({"tag": tag, **about})


def test_the_page_needs_nothing_but_itself(tmp_path) -> None:
    text = page(kept(tmp_path, *WHOLE))
    seen = _Page(text)
    assert seen.loads == []
    assert all(mark["tag"] != "script" for mark in seen.marks)
    assert "@import" not in text
    assert "url(" not in text
    assert seen.headings[0] == "h1"
    assert set(seen.headings[1:]) == {"h2"}
    assert len(text.encode()) <= 300_000


def test_the_charts_carry_the_readings_of_the_log(tmp_path) -> None:
    marks = _Page(page(kept(tmp_path, *WHOLE))).marks
    values = [mark["data-value"] for mark in marks if mark["tag"] == "line" and "data-value" in mark]
    assert values == ["125", "102", "62", "38", "32"]
    courses = [(mark["data-first"], mark["data-last"]) for mark in marks if "data-first" in mark]
    assert courses == [("122", "121"), ("121", "120"), ("112", "110"), ("110", "109")]


def test_what_was_said_is_shown_as_it_is_and_never_as_markup(tmp_path) -> None:
    log = kept(tmp_path, *GOVERNED, "<script>alert(1)</script>")
    text = page(log)
    assert "<script>" not in text
    assert "&lt;script&gt;" in text or "script" not in text


@pytest.mark.parametrize("words", [(), ("missing.jsonl",), ("README.md",)])
def test_what_is_no_log_is_refused_in_a_sentence(words, capsys) -> None:
    assert run(["report", *words]) != 0
    assert "Traceback" not in capsys.readouterr().err


def test_a_page_that_can_not_be_written_says_where(tmp_path, capsys) -> None:
    log = kept(tmp_path, *JUDGED)
    assert run(["report", str(log), "-o", str(tmp_path / "no" / "page.html")]) != 0
    assert "-o" in capsys.readouterr().err


def test_begun_alone_makes_a_report(tmp_path) -> None:
    log = kept(tmp_path)
    assert isinstance(proven(log)[0].entries[0].event, Begun)
    assert "not reached" in page(log)
