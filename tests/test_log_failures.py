"""The session log: whatever fails, and whenever the program dies, what was confirmed is on the disk."""

from __future__ import annotations

import errno
import itertools
import os
import sys
from pathlib import Path

import pytest
from failing_disk import FailingDisk
from log_sample import CHECK, NoFlush, SmallBites, add, header, sample_log

from assistant.core.trouble import LogTrouble
from assistant.log import Disk, Entry, SessionLog, read, reopen, verify


def whole_check(folder: Path, disk: Disk) -> tuple[SessionLog, list[Entry]]:
    """A check of four entries, sealed, as the loop writes it: after a failure it goes on in another file."""
    folder.mkdir()
    try:
        log = SessionLog.create(folder, header(), disk=disk)
    except LogTrouble:
        log = SessionLog.create(folder, header(), disk=disk)
    confirmed: list[Entry] = []
    for number in range(4):
        try:
            add(log, number)
        except LogTrouble:
            assert log.failed
            on_disk = read(log.path).entries
            assert list(on_disk[:number]) == confirmed
            assert len(on_disk) <= number + 1
            log = log.continue_in(folder)
        confirmed = list(read(log.path).entries)
        assert len(confirmed) == number + 1
    try:
        log.seal()
    except LogTrouble:
        log = log.continue_in(folder)
    return log, confirmed


@pytest.mark.parametrize("taken", [0, 1, 200])
@pytest.mark.parametrize("error", [errno.EIO, errno.ENOSPC, errno.EROFS])
def test_whichever_operation_fails_no_confirmed_entry_is_lost_and_the_check_goes_on(
    tmp_path: Path, error: int, taken: int
) -> None:
    for at in itertools.count(1):
        disk = FailingDisk(at, error, taken)
        log, confirmed = whole_check(tmp_path / str(at), disk)
        session = verify(log.path)
        assert list(session.entries) == confirmed
        assert [(entry.event, entry.effects) for entry in confirmed] == list(CHECK[:4])
        assert session.sealed
        if disk.failed_on is None:
            break
        assert disk.after_failure in (["close"], []), "a file that failed was used again"
    assert at > 3 * 6, "each of the six lines takes a write, a flush and a look at the size"


def test_a_record_is_flushed_after_it_was_written_and_before_it_is_confirmed(tmp_path: Path) -> None:
    disk = FailingDisk(0)
    log = SessionLog.create(tmp_path / "new", header(), disk=disk)
    done = [name for name, _ in disk.calls]
    assert done == ["sync folder", "create", "lock", "write", "sync", "size", "sync folder"]
    for deed in (lambda: add(log, 0), log.seal):
        disk.calls.clear()
        deed()
        assert [name for name, _ in disk.calls][:3] == ["write", "sync", "size"]


def test_a_torn_end_is_safe_in_its_own_file_before_it_is_taken_off_the_log(tmp_path: Path) -> None:
    sample_log(tmp_path / "a.jsonl", entries=3, sealed=False)
    os.truncate(tmp_path / "a.jsonl", (tmp_path / "a.jsonl").stat().st_size - 40)
    disk = FailingDisk(0)
    log, _ = reopen(tmp_path / "a.jsonl", disk=disk)
    done = " ".join(name for name, _ in disk.calls)
    assert done.startswith("open lock read create write sync close sync folder truncate sync write sync")
    log.close()


def test_the_file_that_failed_and_the_one_after_it_are_both_named(tmp_path: Path) -> None:
    disk = FailingDisk(0, errno.ENOSPC)
    log = SessionLog.create(tmp_path / "first.jsonl", header(), disk=disk)
    add(log, 0)
    disk.at = disk.count + 1
    with pytest.raises(LogTrouble, match=r"no space left on the disk"):
        add(log, 1)
    with pytest.raises(LogTrouble, match="another file"):
        add(log, 2)
    with log.continue_in(tmp_path / "elsewhere" / "second.jsonl") as second:
        add(second, 3)
    session = verify(tmp_path / "elsewhere" / "second.jsonl")
    assert [entry.event for entry in session.entries] == [event for event, _ in CHECK[:4]]
    (note,) = session.notes
    assert (note.what, note.count) == ("continued", 4)
    assert Path(note.other) == tmp_path / "first.jsonl"
    assert Path(note.here) == tmp_path / "elsewhere" / "second.jsonl"
    assert "no space" in (note.why or "")
    assert second.path.read_bytes().startswith((tmp_path / "first.jsonl").read_bytes())


def test_when_the_second_place_fails_too_a_third_can_be_tried(tmp_path: Path) -> None:
    disk = FailingDisk(0)
    log = SessionLog.create(tmp_path / "1.jsonl", header(), disk=disk)
    add(log, 0)
    disk.at = disk.count + 1
    with pytest.raises(LogTrouble):
        add(log, 1)
    disk.at = disk.count + 4
    with pytest.raises(LogTrouble):
        log.continue_in(tmp_path / "2.jsonl")
    log.continue_in(tmp_path / "3.jsonl").close()
    assert [entry.event for entry in verify(tmp_path / "3.jsonl").entries] == [event for event, _ in CHECK[:2]]


def test_writes_that_are_cut_short_go_on_where_they_stopped(tmp_path: Path) -> None:
    with SessionLog.create(tmp_path, header(), disk=SmallBites()) as log:
        written = [add(log, number) for number in range(4)]
        log.seal()
    sample_log(tmp_path / "plain.jsonl", entries=4)
    assert list(verify(log.path).entries) == written
    assert log.path.read_bytes() == (tmp_path / "plain.jsonl").read_bytes()


class TakesNothing(NoFlush):
    def write(self, file: int, data: bytes) -> int:  # noqa: ARG002
        return 0


def test_a_disk_that_takes_nothing_is_a_failure_and_no_endless_wait(tmp_path: Path) -> None:
    with pytest.raises(LogTrouble):
        SessionLog.create(tmp_path, header(), disk=TakesNothing())


def test_a_recovery_that_fails_anywhere_can_be_tried_again(tmp_path: Path) -> None:
    whole = tmp_path / "whole.jsonl"
    entries = sample_log(whole, entries=3, sealed=False)
    torn = whole.read_bytes()[:-40]
    for at in itertools.count(1):
        path = tmp_path / str(at) / "a.jsonl"
        path.parent.mkdir()
        path.write_bytes(torn)
        disk = FailingDisk(at, taken=5)
        try:
            reopen(path, disk=disk)[0].close()
        except LogTrouble:
            reopen(path, disk=NoFlush())[0].close()
        assert list(verify(path).entries) == entries[:2]
        tails = [file.read_bytes() for file in path.parent.glob("*.torn*")]
        assert torn[torn.rindex(b"\n") + 1 :] in tails
        if disk.failed_on is None:
            break
    assert at > 8


def test_an_interrupted_append_did_not_happen_and_the_end_of_the_check_is_still_recorded(tmp_path: Path) -> None:
    class Interrupted(NoFlush):
        now = False

        def sync(self, file: int) -> None:  # noqa: ARG002
            if self.now:
                raise KeyboardInterrupt

    disk = Interrupted()
    log = SessionLog.create(tmp_path, header(), disk=disk)
    add(log, 0)
    disk.now = True
    with pytest.raises(KeyboardInterrupt):
        add(log, 1)
    disk.now = False
    with pytest.raises(LogTrouble, match="broken off"):
        add(log, 4)
    with log.continue_in(tmp_path) as second:
        second.seal()
    assert [entry.event for entry in verify(second.path).entries] == [CHECK[0][0], CHECK[4][0]]


@pytest.mark.parametrize("error", [errno.EROFS, errno.EACCES, errno.ENOSPC])
def test_a_place_that_can_not_be_written_is_told_with_what_to_do(tmp_path: Path, error: int) -> None:
    with pytest.raises(LogTrouble, match=r"[Cc]hoose (a folder on )?another") as caught:
        SessionLog.create(tmp_path, header(), disk=FailingDisk(1, error))
    assert caught.value.exit_code == 5
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_place_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x")
    for place in (tmp_path / "taken", tmp_path / "taken" / "deeper", tmp_path / "taken" / "a.jsonl"):
        with pytest.raises(LogTrouble, match="Can't begin the log"):
            SessionLog.create(place, header())


def test_a_log_that_exists_is_never_written_over(tmp_path: Path) -> None:
    sample_log(tmp_path / "a.jsonl")
    before = (tmp_path / "a.jsonl").read_bytes()
    with pytest.raises(LogTrouble, match="already"):
        SessionLog.create(tmp_path / "a.jsonl", header())
    assert (tmp_path / "a.jsonl").read_bytes() == before


def test_a_disk_that_is_nearly_full_is_told_before_the_check_begins(tmp_path: Path) -> None:
    class NearlyFull(Disk):
        def free(self, folder: Path) -> int:  # noqa: ARG002
            return 1_000_000

    with pytest.raises(LogTrouble, match="no space left"):
        SessionLog.create(tmp_path, header(), disk=NearlyFull())
    assert list(tmp_path.iterdir()) == []


def test_a_file_system_without_locks_is_told(tmp_path: Path) -> None:
    with pytest.raises(LogTrouble, match="knows no locks"):
        SessionLog.create(tmp_path, header(), disk=FailingDisk(2, errno.ENOLCK))


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps open files in their folders")
def test_a_log_whose_folder_vanishes_is_told_and_the_check_goes_on_elsewhere(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    log = SessionLog.create(folder, header())
    add(log, 0)
    log.path.unlink()
    folder.rmdir()
    with pytest.raises(LogTrouble, match="not there"):
        add(log, 1)
    with log.continue_in(tmp_path) as second:
        add(second, 2)
    assert [entry.event for entry in verify(second.path).entries] == [event for event, _ in CHECK[:3]]


def test_a_log_that_another_program_changes_is_told_at_the_next_entry(tmp_path: Path) -> None:
    for size in (0, 100):
        log = SessionLog.create(tmp_path, header())
        add(log, 0)
        os.truncate(log.path, size)
        with pytest.raises(LogTrouble, match="Another program"):
            add(log, 1)
        with log.continue_in(tmp_path) as second:
            add(second, 2)
        assert [entry.event for entry in verify(second.path).entries] == [event for event, _ in CHECK[:3]]
