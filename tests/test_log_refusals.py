"""The session log: a file that is not a log of ours, or not of this version, is refused in words and left as it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from log_sample import ENTRY_BODY, HEADER_BODY, SEAL_BODY, chained

from assistant.core.trouble import LogTrouble
from assistant.log import BrokenLog, read, reopen, verify


def refusal(path: Path, data: bytes) -> LogTrouble:
    path.write_bytes(data)
    with pytest.raises(LogTrouble) as caught:
        read(path)
    with pytest.raises(type(caught.value)):
        verify(path)
    with pytest.raises(type(caught.value)):
        reopen(path)
    assert path.read_bytes() == data
    return caught.value


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", "is not a session log"),
        (b"\xff\xfe" + HEADER_BODY.encode("utf-16-le"), "is not a session log"),
        (b"{}\n", "is not a session log"),
        (HEADER_BODY.encode()[:9], "only a piece of its first line"),
        (HEADER_BODY.encode(), "only a piece of its first line"),
        (chained([HEADER_BODY.replace('"schema":1', '"schema":2')]), "newer version.* version 2.* reads version 1"),
        (chained([HEADER_BODY.replace('"schema":1', '"schema":0')]), "different version.* version 0.* reads version 1"),
    ],
)
def test_a_file_that_is_no_log_of_this_version_is_refused_in_words(tmp_path: Path, data: bytes, says: str) -> None:
    trouble = refusal(tmp_path / "b.jsonl", data)
    assert not isinstance(trouble, BrokenLog)
    with pytest.raises(LogTrouble, match=says):
        raise trouble


@pytest.mark.parametrize(
    ("was", "becomes", "says"),
    [
        ('"kind":"said"', '"kind":"sung"', 'the kind "sung" is not known'),
        ('"kind":"entry"', '"kind":"extra"', 'the kind "extra" is not known'),
        ('"text":"a"', '"text":"a","loud":1', "loud: this field is not known"),
        ('"text":"a"', '"text":"a","text":"b"', '"text" stands twice'),
        ('"t_ms":0', '"t_ms":0,"t_ms":1', '"t_ms" stands twice'),
        ('"t_ms":0', '"t_ms":NaN', "NaN is not a number"),
        ('"t_ms":0', '"t_ms":1e400', "t_ms"),
        ('"t_ms":0', '"t_ms":true', "t_ms"),
        ('"t_ms":0,', "", "t_ms: Field required"),
        ('"effects":[]', '"effects":' + "[" * 100_000, ""),
        (ENTRY_BODY, "{", ""),
        (ENTRY_BODY, "\u00e9", ""),
    ],
)
def test_a_line_that_this_version_does_not_know_is_refused_and_not_left_out(
    tmp_path: Path, was: str, becomes: str, says: str
) -> None:
    bodies = [HEADER_BODY, ENTRY_BODY.replace(was, becomes), ENTRY_BODY.replace('"seq":1', '"seq":2')]
    trouble = refusal(tmp_path / "b.jsonl", chained(bodies))
    assert not isinstance(trouble, BrokenLog)
    with pytest.raises(LogTrouble, match=f"line 2, which begins at byte.*{says}"):
        raise trouble


def test_lines_in_the_right_order_are_taken(tmp_path: Path) -> None:
    (tmp_path / "a.jsonl").write_bytes(chained([HEADER_BODY, ENTRY_BODY, SEAL_BODY]))
    assert verify(tmp_path / "a.jsonl").sealed


@pytest.mark.parametrize(
    ("bodies", "line"),
    [
        ([HEADER_BODY, HEADER_BODY], 2),
        ([HEADER_BODY, ENTRY_BODY, ENTRY_BODY], 3),
        ([HEADER_BODY, ENTRY_BODY.replace('"seq":1', '"seq":2')], 2),
        ([HEADER_BODY, ENTRY_BODY.replace("PREV", "0" * 64)], 2),
        ([HEADER_BODY, ENTRY_BODY, SEAL_BODY.replace('"count":1', '"count":2')], 3),
        ([HEADER_BODY, ENTRY_BODY, SEAL_BODY.replace("PREV", "0" * 64)], 3),
        ([HEADER_BODY, ENTRY_BODY, SEAL_BODY, ENTRY_BODY.replace('"seq":1', '"seq":3')], 4),
    ],
)
def test_lines_with_a_right_chain_but_in_a_wrong_order_are_refused(
    tmp_path: Path, bodies: list[str], line: int
) -> None:
    trouble = refusal(tmp_path / "b.jsonl", chained(bodies))
    assert isinstance(trouble, BrokenLog)
    assert trouble.line == line
    assert trouble.byte == len(chained(bodies[: line - 1]))
    assert trouble.exit_code == 1


def test_a_log_that_is_not_there_or_is_a_folder_is_named(tmp_path: Path) -> None:
    for function in (read, verify, reopen):
        with pytest.raises(LogTrouble, match=r"missing\.jsonl"):
            function(tmp_path / "missing.jsonl")
        with pytest.raises(LogTrouble, match="Can't read"):
            function(tmp_path)
