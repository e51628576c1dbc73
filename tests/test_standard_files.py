"""Standard files: a user's own are used, wrong ones are explained with line and field."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from observed import STANDARDS

from assistant import assets, standards
from assistant.core.standard import Standard
from assistant.core.trouble import BadInput, Trouble
from assistant.standards.checking import examine

OWN = """id = "depot"
title = "Rule of a depot"
edition = "first"
date = 2024-05-01
kind = "guide"
meaning = "A guide."
order = ["governor-cut-out", "applied-leakage"]

[before_moving]
pressure = { psi = 100 }
source = "own"
sure = "own"

[[limits]]
test = "governor-cut-out"
at_most = { psi = 130, kPa = 896 }
consequence = "have-it-looked-at"
source = "own"
sure = "own"

[[limits]]
test = "applied-leakage"
at_most = { psi = 2 }
consequence = "must-not-drive"
source = "own"
sure = "own"
"""


def test_a_file_of_ones_own_is_used_beside_the_shipped_ones(tmp_path: Path) -> None:
    (tmp_path / "depot.toml").write_text(OWN)
    loaded = standards.load("depot", tmp_path)
    assert (loaded.id, loaded.date) == ("depot", "2024-05-01")
    assert standards.all_standards(tmp_path)[0].id == standards.DEFAULT == "common-practice"
    assert len(standards.all_standards(tmp_path)) == len(STANDARDS) + 1
    assert standards.fingerprint("depot", tmp_path) == assets.fingerprint(tmp_path / "depot.toml")


def test_the_folder_of_ones_own_can_be_named_by_the_environment(tmp_path: Path, monkeypatch) -> None:
    (tmp_path / "depot.toml").write_text(OWN)
    monkeypatch.setenv("GLADHAND_STANDARDS", str(tmp_path))
    assert standards.load("depot").id == "depot"
    monkeypatch.setenv("GLADHAND_STANDARDS", str(tmp_path / "gone"))
    with pytest.raises(BadInput, match="is not a folder"):
        standards.load("depot")


def test_a_broken_file_of_ones_own_keeps_nothing_else_from_being_used(tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text(OWN.replace('kind = "guide"', 'kind = "hint"'))
    assert standards.load("ontario", tmp_path).id == "ontario"
    with pytest.raises(Trouble, match=r"Choose one of: common-practice, alberta.*broken\.toml.*--check"):
        standards.load("depot", tmp_path)


def test_two_standards_with_one_id_are_refused(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(OWN.replace('"depot"', '"ontario"', 1))
    with pytest.raises(Trouble, match='Two standards have the id "ontario"'):
        standards.load("ontario", tmp_path)


def test_a_file_that_is_no_text_is_told_so(tmp_path: Path) -> None:
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="not a text file"):
        standards.check_file(tmp_path / "binary.toml")
    with pytest.raises(BadInput, match="Can't read"):
        standards.check_file(tmp_path / "gone.toml")


def line_of(text: str, part: str, nth: int = 1) -> int:
    return [number for number, line in enumerate(text.splitlines(), 1) if part in line][nth - 1]


LOSS = "at_most = { psi = 2 }"
CITED = 'source = "own"\nsure = "own"'

# (what is changed, into what, the line's mark in the changed file, its place among equal lines, field, message)
WRONG = [
    ('title = "Rule of a depot"\n', "", 'id = "depot"', 1, "title", "is missing"),
    ("psi = 130", 'psi = "130"', "at_most", 1, "limits[1].at_most.psi", "valid number"),
    ("psi = 2 }", "psi = -2 }", "at_most", 2, "limits[2].at_most.psi", "greater than or equal to 0"),
    ("psi = 2 }", "psi = nan }", "at_most", 2, "limits[2].at_most.psi", "finite"),
    ("psi = 2 }", "bar = 2 }", "at_most", 2, "limits[2].at_most.bar", "there are psi, kPa"),
    ("psi = 2 }", "}", "at_most", 2, "limits[2].at_most", "needs psi, kPa or both"),
    ("psi = 130, kPa = 896", "psi = 130, kPa = 869", "at_most", 1, "limits[1].at_most", "130 psi are 896.3 kPa"),
    ('consequence = "must-not-drive"', 'consequence = "bad"', '"bad"', 1, "limits[2].consequence", "'minor-defect'"),
    ('consequence = "must', 'consequenc = "must', "consequenc ", 1, "limits[2].consequenc", 'mean "consequence"'),
    ('test = "applied-leakage"', 'test = "leakage"', '"leakage"', 1, "limits[2].test", "is none of: 'build-up'"),
    ('"applied-leakage"]', '"governor-cut-out"]', "order", 1, "order[2]", "stands twice"),
    ('"applied-leakage"]', '"hand-valve"]', "order", 1, "order[2]", "no entry under limits"),
    ("date = 2024-05-01", 'date = "last May"', "date", 1, "date", "undated"),
    ('id = "depot"', 'id = "My Depot"', "id =", 1, "id", "small letters"),
    (LOSS, f"{LOSS}\nhalf_cut_out = true", "half_cut_out", 1, "limits[2].half_cut_out", "says nothing about"),
    (LOSS, "at_least = { psi = 2 }", "at_least", 1, "limits[2].at_least", "says nothing about"),
    (LOSS, f"less_than = {{ psi = 2 }}\n{LOSS}", "less_than", 1, "limits[2].less_than", "exclude"),
    ('test = "applied-leakage"', 'test = "governor-cut-out"', "[[limits]]", 2, "limits[2]", "already a limit"),
    ('test = "applied-leakage"', 'test = "build-up"', "[[limits]]", 2, "limits[2]", "needs from, to"),
    ('test = "applied-leakage"', 'test = "parking-brake"', "[[limits]]", 2, "limits[2]", 'needs must = "held"'),
    (f"{CITED}\n\n[[", 'source = ""\nsure = "own"\n\n[[', 'source = ""', 1, "before_moving.source", "at least 1"),
    ("[before_moving]", "[before_mowing]", "[before_mowing]", 1, "before_mowing", 'did you mean "before_moving"'),
    ("[bef", "[not_part]\nhand-walve = 'no'\n[bef", "hand-walve", 1, "not_part.hand-walve", "is none of"),
]


@pytest.mark.parametrize(("old", "new", "mark", "nth", "field", "message"), WRONG)
def test_a_mistake_is_told_with_its_line_and_field(tmp_path: Path, old, new, mark, nth, field, message) -> None:
    assert old in OWN
    text = OWN.replace(old, new, 1)
    path = tmp_path / "own.toml"
    path.write_text(text)
    mistakes = standards.check_file(path)
    found = [mistake for mistake in mistakes if mistake.field == field and message in mistake.message]
    assert found, mistakes
    assert found[0].line == (1 if message == "is missing" else line_of(text, mark, nth))


def test_every_mistake_is_told_at_once_and_in_order() -> None:
    text = OWN.replace("psi = 130", 'psi = "x"').replace('kind = "guide"', "kind = 3").replace("psi = 2 }", "bar = 2 }")
    lines = [mistake.line for mistake in examine(text)[1]]
    assert len(lines) == 3
    assert lines == sorted(lines)


def test_what_is_not_toml_is_told_with_its_line() -> None:
    standard, mistakes = examine(OWN.replace("date = 2024-05-01", "date = "))
    assert standard is None
    assert [(mistake.line, mistake.field) for mistake in mistakes] == [(line_of(OWN, "date"), "")]
    assert "not TOML" in str(mistakes[0])


def test_the_order_of_a_standard_respects_the_pressure() -> None:
    fanned = OWN.replace('["governor-cut-out", "applied-leakage"]', '["low-air-warning", "applied-leakage"]')
    fanned = fanned.replace('test = "governor-cut-out"', 'test = "low-air-warning"')
    assert any("needs full tanks" in mistake.message for mistake in examine(fanned)[1])


def test_the_published_schema_names_every_field_of_the_files() -> None:
    schema = Standard.model_json_schema(by_alias=True)
    assert {"id", "order", "before_moving", "limits", "gauge", "not_part"} <= set(schema["properties"])
    assert {"from", "to", "at_most", "less_than", "source", "sure"} <= set(schema["$defs"]["Limit"]["properties"])
    json.dumps(schema)
