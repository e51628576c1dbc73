"""The session log: any change of a byte or a line is found, and a torn end costs only the piece that was torn."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from log_sample import NoFlush, add, header, sample_log

from assistant.core.trouble import LogTrouble
from assistant.log import BrokenLog, SessionLog, read, reopen, verify


def sample_lines(path: Path, *, entries: int = 4, sealed: bool = True) -> list[bytes]:
    sample_log(path, entries=entries, sealed=sealed)
    return path.read_bytes().splitlines(keepends=True)


def test_a_log_cut_at_any_byte_keeps_every_whole_entry_and_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    with SessionLog.create(path, header(), disk=NoFlush()) as log:
        whole = [add(log, number) for number in (3, 8, 13)]  # short lines
    data = path.read_bytes()
    first = data.index(b"\n") + 1
    for size in range(first, len(data)):
        folder = tmp_path / str(size)
        folder.mkdir()
        cut = folder / "a.jsonl"
        cut.write_bytes(data[:size])
        kept = data[: data.rindex(b"\n", 0, size) + 1]
        torn = data[len(kept) : size]

        log, session = reopen(cut, disk=NoFlush())
        add(log, 0)
        log.seal()

        count = kept.count(b"\n") - 1
        after = verify(cut)
        assert list(session.entries) == whole[:count]
        assert session.torn == bool(torn)
        assert list(after.entries[:-1]) == whole[:count]
        assert cut.read_bytes().startswith(kept)
        assert [file.read_bytes() for file in folder.glob("*.torn")] == ([torn] if torn else [])
        assert [(note.what, note.count, Path(note.other).name) for note in after.notes] == (
            [("recovered", len(torn), "a.jsonl.torn")] if torn else []
        )


def test_a_log_cut_within_its_first_line_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    first = sample_lines(path)[0]
    for size in range(len(first)):
        path.write_bytes(first[:size])
        with pytest.raises(LogTrouble, match="Begin a new check"):
            reopen(path)
        assert path.read_bytes() == first[:size]


def test_space_that_the_disk_never_filled_is_a_torn_end(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path, sealed=False)
    for tail in (b"\0" * 700, b"\0" * 99 + lines[-1][99:], lines[-1][:99] + b"\0" * 400):
        path.write_bytes(b"".join(lines[:-1]) + tail)
        log, session = reopen(path, disk=NoFlush())
        log.close()
        assert (len(session.entries), session.torn) == (3, True)
        assert len(verify(path).entries) == 3
    assert sorted(file.name for file in tmp_path.glob("*.torn*")) == [
        "a.jsonl.torn",
        "a.jsonl.torn2",
        "a.jsonl.torn3",
    ]


def test_reading_leaves_a_torn_log_as_it_is_and_verifying_says_so(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    torn = b"".join(sample_lines(path))[:-1]
    path.write_bytes(torn)
    session = read(path)
    assert (len(session.entries), session.torn, session.sealed) == (4, True, False)
    with pytest.raises(LogTrouble, match="middle of a line"):
        verify(path)
    assert path.read_bytes() == torn


def test_one_flipped_bit_in_any_byte_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    data = b"".join(sample_lines(path, entries=3))
    with path.open("r+b", buffering=0) as file:
        for place, byte in enumerate(data):
            file.seek(place)
            file.write(bytes([byte ^ 1 << place % 8]))
            with pytest.raises(LogTrouble):
                verify(path)
            file.seek(place)
            file.write(bytes([byte]))
    assert verify(path).sealed


def test_a_changed_line_is_named_with_the_byte_where_it_begins(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path)
    for number in range(1, len(lines)):
        changed = [*lines]
        changed[number] = changed[number].replace(b'"seq":', b'"seq": ', 1)
        path.write_bytes(b"".join(changed))
        for refused in (read, verify, reopen):
            with pytest.raises(BrokenLog, match=f"line {number + 1},") as caught:
                refused(path)
            assert (caught.value.line, caught.value.byte) == (number + 1, len(b"".join(lines[:number])))


def test_a_changed_last_line_is_damage_and_not_a_torn_end(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path, sealed=False)
    changed = b"".join(lines).replace(b"build-up", b"build-UP")
    path.write_bytes(changed)
    with pytest.raises(BrokenLog):
        reopen(path)
    assert path.read_bytes() == changed
    assert list(tmp_path.iterdir()) == [path]


def test_two_lines_that_change_places_are_found(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path)
    for one, other in combinations(range(len(lines)), 2):
        changed = [*lines]
        changed[one], changed[other] = changed[other], changed[one]
        path.write_bytes(b"".join(changed))
        with pytest.raises(LogTrouble):
            verify(path)


def test_one_or_two_missing_lines_are_found_and_a_missing_end_leaves_the_log_unsealed(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path)
    numbers = range(len(lines))
    for gone in [*combinations(numbers, 1), *combinations(numbers, 2)]:
        path.write_bytes(b"".join(line for number, line in enumerate(lines) if number not in gone))
        if gone == tuple(numbers[-len(gone) :]):  # nothing in the file can tell; that is what the seal is for
            assert not verify(path).sealed
        else:
            with pytest.raises(LogTrouble):
                verify(path)


def test_a_line_that_stands_twice_anywhere_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    lines = sample_lines(path)
    for line in lines:
        for place in range(len(lines) + 1):
            path.write_bytes(b"".join([*lines[:place], line, *lines[place:]]))
            with pytest.raises(LogTrouble):
                verify(path)


def test_nothing_may_stand_behind_the_seal(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    data = b"".join(sample_lines(path))
    for more in (b"{", b"\n", b"\0", b"{}\n"):
        path.write_bytes(data + more)
        with pytest.raises(BrokenLog, match="behind the seal"):
            read(path)


def test_the_entries_of_one_check_do_not_fit_under_the_header_of_another(tmp_path: Path) -> None:
    entries = sample_lines(tmp_path / "a.jsonl")[1:]
    with SessionLog.create(tmp_path / "b.jsonl", header("T-7")) as log:
        other = log.path.read_bytes()
    (tmp_path / "c.jsonl").write_bytes(other + b"".join(entries))
    with pytest.raises(BrokenLog, match="line 2,"):
        verify(tmp_path / "c.jsonl")
