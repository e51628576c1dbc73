"""The session log: what is written is there, reads back as it was, and is refused when it is not one of ours."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from log_sample import CHECK, ENTRY_BODY, HEADER_BODY, NoFlush, add, chained, header, sample_log, wall
from pydantic import TypeAdapter, ValidationError

from assistant.core.events import Due, Line, Reading, Said, Say
from assistant.core.trouble import LogTrouble
from assistant.log import SessionLog, default_folder, read, reopen, verify
from assistant.log.chain import WallTime


def test_what_was_appended_is_read_back_as_it_was(tmp_path: Path) -> None:
    written = sample_log(tmp_path / "a.jsonl")
    session = verify(tmp_path / "a.jsonl")
    assert list(session.entries) == written
    assert [(entry.event, entry.effects) for entry in session.entries] == list(CHECK)
    assert session.header.setup == header().setup
    assert (session.sealed, session.torn) == (True, False)


values = st.one_of(
    st.text(),
    st.integers(-(2**62), 2**62),
    st.floats(allow_nan=False, allow_infinity=False),
    st.builds(Reading, value=st.floats(0, 1100), unit=st.sampled_from(["psi", "kPa"])),
    st.none(),
)


@settings(deadline=None, max_examples=60)
@given(
    text=st.text(), given_values=st.dictionaries(st.text(max_size=8), values, max_size=4), t_ms=st.integers(0, 2**53)
)
def test_any_text_and_any_value_comes_back_as_it_went_in(text: str, given_values: dict[str, object], t_ms: int) -> None:
    line = Line.model_validate({"prompt": text, "values": given_values})
    with TemporaryDirectory() as folder, SessionLog.create(Path(folder), header(), disk=NoFlush()) as log:
        log.append(t_ms, wall(t_ms % 10**9), 0, Said(text=text), [Say(lines=(line,))])
        entry = verify(log.path).entries[0]
    assert (entry.t_ms, entry.event, entry.effects) == (t_ms, Said(text=text), (Say(lines=(line,)),))


def test_every_line_is_a_json_object_and_the_chain_can_be_made_without_the_program(tmp_path: Path) -> None:
    sample_log(tmp_path / "a.jsonl")
    data = (tmp_path / "a.jsonl").read_bytes()
    lines = data.decode("utf-8").splitlines()
    kinds = [json.loads(line)["kind"] for line in lines]
    assert kinds == ["header", *["entry"] * len(CHECK), "sealed"]
    assert data.endswith(b"\n")
    assert b"\r" not in data
    assert chained([line[: line.rindex(',"hash":"')] for line in lines]) == data


def test_a_log_made_by_hand_with_sha256sum_holds(tmp_path: Path) -> None:
    """Source of the hashes: GNU coreutils, `printf '%s' "$BODY" | sha256sum`, and for the second line
    `(printf '%s' "$HASH1" | xxd -r -p; printf '%s' "$BODY2") | sha256sum`."""
    hashes = [
        "4a3cd2859949911fe4f9958af00aacdba982df4c0f552c5ea09387ceefb356d4",
        "6a49f885503688e7f80bd74bc0e8312fe45721af32f064ad725fe82e8cb2a283",
    ]
    path = tmp_path / "by-hand.jsonl"
    bodies = [HEADER_BODY, ENTRY_BODY.replace("PREV", hashes[0])]
    path.write_text("".join(f'{body},"hash":"{of}"}}\n' for body, of in zip(bodies, hashes, strict=True)), newline="\n")
    session = verify(path)
    assert session.head == hashes[1][:8]
    assert [entry.event for entry in session.entries] == [Said(text="a")]


@pytest.mark.parametrize(
    "text",
    [  # RFC 3339, section 5.8
        "1985-04-12T23:20:50.52Z",
        "1996-12-19T16:39:57-08:00",
        "1990-12-31T23:59:60Z",
        "1990-12-31T15:59:60-08:00",
        "1937-01-01T12:00:27.87+00:20",
    ],
)
def test_every_example_of_rfc_3339_is_a_wall_time(text: str) -> None:
    assert TypeAdapter(WallTime).validate_python(text) == text


@pytest.mark.parametrize(
    "text",
    ["2026-03-02T07:15:09", "2026-03-02", "2026-13-02T07:15:09Z", "2026-03-02T24:15:09Z", "2026-03-02T07:15:09Z\n"],
)
def test_a_time_without_offset_or_out_of_range_is_no_wall_time(text: str) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(WallTime).validate_python(text)


def test_a_wall_time_without_offset_is_refused_and_the_log_goes_on(tmp_path: Path) -> None:
    with SessionLog.create(tmp_path, header(), disk=NoFlush()) as log:
        with pytest.raises(LogTrouble, match="wall"):
            log.append(0, "2026-03-02T07:15:09", 0, Said(text="a"), ())
        add(log, 0)
    assert len(verify(log.path).entries) == 1


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "\udcff"])
def test_a_value_that_would_not_read_back_is_refused_and_the_log_goes_on(tmp_path: Path, value: float | str) -> None:
    line = Line(prompt="a")
    line.values["sneaked in"] = value
    with SessionLog.create(tmp_path, header(), disk=NoFlush()) as log:
        with pytest.raises(LogTrouble, match="can't be written down"):
            log.append(0, wall(0), 0, Due(timer="t"), [Say(lines=(line,))])
        assert not log.failed
        add(log, 0)
    assert len(verify(log.path).entries) == 1


def test_the_head_for_people_is_the_same_written_and_read_and_changes_with_each_entry(
    tmp_path: Path,
) -> None:
    log = SessionLog.create(tmp_path, header(), disk=NoFlush())
    heads = []
    for number in range(3):
        add(log, number)
        heads.append(log.head)
        assert read(log.path).head == log.head
    log.seal()
    assert verify(log.path).head == log.head
    assert len({*heads, log.head}) == 4


def test_a_sealed_log_takes_nothing_more(tmp_path: Path) -> None:
    sample_log(tmp_path / "a.jsonl")
    with pytest.raises(LogTrouble, match="sealed"):
        reopen(tmp_path / "a.jsonl")
    log = SessionLog.create(tmp_path, header(), disk=NoFlush())
    log.seal()
    for refused in (lambda: add(log, 0), log.seal, lambda: log.continue_in(tmp_path)):
        with pytest.raises(LogTrouble, match="sealed"):
            refused()


def test_a_reopened_log_goes_on_where_it_was(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    written = sample_log(path, entries=3, sealed=False)
    log, session = reopen(path)
    assert (list(session.entries), session.torn, session.sealed) == (written, False, False)
    written.append(add(log, 3))
    log.seal()
    assert list(verify(path).entries) == written


def test_a_log_has_one_writer_at_a_time(tmp_path: Path) -> None:
    with SessionLog.create(tmp_path, header()) as log:
        with pytest.raises(LogTrouble, match="another check"):
            reopen(log.path)
        code = f"import pathlib; from assistant.log import reopen; reopen(pathlib.Path({str(log.path)!r}))"
        other = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        assert "another check" in other.stderr
        add(log, 0)
    reopen(log.path)[0].close()
    assert len(verify(log.path).entries) == 1


def test_a_folder_is_made_and_the_name_tells_time_and_vehicle(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "checks"
    paths = []
    for _ in range(2):
        with SessionLog.create(folder, header()) as log:
            paths.append(log.path)
    assert [path.name for path in paths] == ["2026-03-02_07-15-09_T-1042.jsonl", "2026-03-02_07-15-09_T-1042_2.jsonl"]


@pytest.mark.parametrize(
    ("fleet_number", "tail"),
    [
        (None, ""),
        ("", ""),
        ("../..", ""),
        ("..\\T 10:42*?", "_T-10-42"),
        ("ÄÖ № 7\n", "_ÄÖ-7"),
        ("x" * 300, "_" + "x" * 40),
    ],
)
def test_no_fleet_number_makes_a_name_that_a_file_system_refuses(
    tmp_path: Path, fleet_number: str | None, tail: str
) -> None:
    with SessionLog.create(tmp_path, header(fleet_number), disk=NoFlush()) as log:
        assert log.path == tmp_path / f"2026-03-02_07-15-09{tail}.jsonl"
    assert verify(log.path).header.setup.fleet_number == fleet_number


def test_logs_lie_in_the_users_data_folder_by_default() -> None:
    assert default_folder().is_absolute()
    assert default_folder().parts[-2:] == ("gladhand", "checks")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has other permissions")
def test_only_its_owner_can_read_a_log(tmp_path: Path) -> None:
    with SessionLog.create(tmp_path / "new", header()) as log:
        assert stat.S_IMODE(os.stat(log.path).st_mode) == 0o600
        assert stat.S_IMODE(os.stat(log.path.parent).st_mode) & 0o077 == 0
