"""The loop: reduce, append, perform, in this order, whatever fails."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from failing_disk import FailingDisk

from assistant import assets
from assistant.cab.typed import TypedCab
from assistant.core.dialogue import State
from assistant.core.events import Begun, Said, Setup
from assistant.core.trouble import LogTrouble
from assistant.log import Disk, Header, SessionLog, verify
from assistant.mouth.console import speaking_ms
from assistant.review.replay import fold
from assistant.session import Session
from tests.walk import GOVERNED, WHOLE, dialogue

SETUP = Setup(standard="common-practice")


def _lines(phrases: tuple[str, ...]) -> list[str]:
    return [phrase for phrase in phrases if not phrase.startswith("+")]


class _Run:
    """One session over typed lines; keeps what was spoken and what was in the log at that moment."""

    def __init__(self, folder: Path, lines, disk: Disk | None = None) -> None:
        header = Header(program="a test", created="2026-03-02T07:15:09+00:00", setup=SETUP, mode="typed")
        self.cab = TypedCab(lines, jump=True, speaking_ms=speaking_ms)
        self.spoken: list[str] = []
        say = self.cab.say

        def noted(spoken: str, at_ms: int) -> None:
            self.spoken.append(spoken)
            self.in_log.append(self.session.log.path.read_bytes().count(b"\n"))
            say(spoken, at_ms)

        self.cab.say = noted  # type: ignore[method-assign]
        self.in_log: list[int] = []
        self.seen = 0
        log = SessionLog.create(folder, header, disk=disk)
        self.session = Session(dialogue(SETUP), assets.prompts(), log, self.cab, self._watch)

    def _watch(self, *_: object) -> None:
        self.seen += 1

    def go(self) -> State:
        return self.session.begin(Begun(setup=SETUP))


def test_everything_is_in_the_log_before_it_is_spoken(tmp_path) -> None:
    run = _Run(tmp_path, _lines(WHOLE))
    run.go()
    assert run.in_log[0] == 2  # the header and the beginning
    assert run.in_log == sorted(set(run.in_log))


@pytest.mark.parametrize("at", [8, 15, 24, 33])
def test_a_log_that_fails_goes_on_in_a_new_file_and_the_driver_is_told(tmp_path, at) -> None:
    disk = FailingDisk(at, errno.EIO)
    run = _Run(tmp_path, _lines(WHOLE), disk)
    state = run.go()
    assert state.mode == "closed"
    assert any("in a new file" in text for text in run.spoken)
    kept = verify(run.session.log.path)
    assert fold(dialogue(SETUP), kept.entries).verdicts == state.verdicts


def test_a_request_to_stop_closes_the_check_and_keeps_the_log_open_for_resuming(tmp_path) -> None:
    def lines():
        yield from _lines(GOVERNED)
        raise KeyboardInterrupt

    run = _Run(tmp_path, lines())
    state = run.go()
    assert state.mode == "closed"
    kept = verify(run.session.log.path)
    assert not kept.sealed
    assert kept.entries[-1].event.kind == "ended" or isinstance(kept.entries[-1].event, Said)
    assert {"build-up", "governor-cut-out", "governor-cut-in"} <= set(state.verdicts)


def test_a_disk_without_any_room_is_told_before_the_check_begins(tmp_path) -> None:
    class Full(Disk):
        def free(self, folder: Path) -> int:
            del folder
            return 0

    with pytest.raises(LogTrouble):
        _Run(tmp_path, _lines(WHOLE), Full())


def test_text_that_is_half_a_character_does_not_end_the_check(tmp_path) -> None:
    run = _Run(tmp_path, ["brakes are set", "\udcff", "wheels are chocked"])
    run.go()
    assert "chocked" in run.session.log.path.read_text(encoding="utf-8")
