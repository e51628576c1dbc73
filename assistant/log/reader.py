"""Reading a session log back, and the proof that nothing in it was changed.

Law: every line is checked before any of it is believed. Only the end of a file that a crash cut off is forgiven, and
then nothing but that last piece; every other fault is named by line and byte, and the log is refused as a whole.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.core.trouble import LogTrouble
from assistant.log.chain import SCHEMA, AnyLine, Entry, Header, Note, Sealed, parse, unchanged
from assistant.log.disk import trouble

_OPENING = b'{"kind":"header","schema":'


class BrokenLog(LogTrouble):
    """A log whose chain does not hold. `line` counts from 1, `byte` from 0: where the first fault begins."""

    exit_code = 1

    def __init__(self, name: str, line: int, byte: int, why: str) -> None:
        super().__init__(
            f"{name} does not hold: line {line}, which begins at byte {byte}, {why}. "
            "Keep the file as it is for whoever has to judge it, and begin a new check."
        )
        self.line = line
        self.byte = byte


@dataclass(frozen=True)
class Session:
    """A log that was read. `sealed`: it was finished properly. `torn`: a piece of a line at the end was left out.
    `head`: the first 8 hex digits of the last hash, for people to compare with a copy kept elsewhere."""

    header: Header
    entries: tuple[Entry, ...]
    notes: tuple[Note, ...]
    sealed: bool
    torn: bool
    head: str


@dataclass(frozen=True)
class Scan:
    """What a pass over the bytes of a log found: the good lines (with their newlines), what they say, the torn rest."""

    lines: tuple[bytes, ...]
    records: tuple[AnyLine, ...]
    tail: bytes

    @property
    def session(self) -> Session:
        header = self.records[0]
        assert isinstance(header, Header)  # _next lets nothing else be first
        return Session(
            header=header,
            entries=tuple(record for record in self.records if isinstance(record, Entry)),
            notes=tuple(record for record in self.records if isinstance(record, Note)),
            sealed=isinstance(self.records[-1], Sealed),
            torn=bool(self.tail),
            head=self.records[-1].hash[:8],
        )


def read(path: Path) -> Session:
    """The check in a log file, without the piece that a crash may have left at its end.

    Raises BrokenLog at the first line that was changed, removed, doubled or moved, and LogTrouble for a file that is
    no session log, can't be opened, is of another schema version or holds a kind of event not known here.
    """
    return scan(_bytes(path), path.name).session


def salvage(path: Path) -> tuple[Session, LogTrouble | None]:
    """What stands before the first fault of a log, and the fault; None: the log holds.

    For people who have to see what a damaged log still tells; nothing behind the fault is believed. Raises LogTrouble
    when not even the first line holds.
    """
    found, fault = _pass(_bytes(path), path.name)
    if fault is not None and not found.records:
        raise fault
    return found.session, fault


def verify(path: Path) -> Session:
    """As `read`, but a torn end is a fault too.

    What this proves: the bytes are those that the chain was made over, in their order, with none missing before the
    end. A missing end shows only in `sealed` being False. What it can't prove: that nobody made a whole new chain, for
    there is no secret in it. Against that, compare `head` with a copy that was kept outside the file when the check
    ended. Its 8 digits stop accidents and casual edits; someone who computes some billions of hashes can match them.
    """
    session = read(path)
    if session.torn:
        raise LogTrouble(
            f"{path.name} ends in the middle of a line: the program or the computer stopped while writing it. "
            "Everything before that holds. Resume the check to recover the log."
        )
    return session


def scan(data: bytes, name: str) -> Scan:
    """Check and read the bytes of a log. `name` stands in messages. Raises as `read`."""
    found, fault = _pass(data, name)
    if fault is not None:
        raise fault
    return found


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            opening = stream.read(len(_OPENING))
            _check_opening(opening, path.name)  # before a large file of another kind is taken into memory
            return opening + stream.read()
    except OSError as error:
        raise trouble("Can't read", path, error) from error


def _pass(data: bytes, name: str) -> tuple[Scan, LogTrouble | None]:
    """One pass over the bytes, up to the first fault. Raises LogTrouble for what is no log of this version."""
    _check_opening(data[: len(_OPENING)], name)
    lines, tail = _cut_off_torn_end(data)
    if not lines:
        raise LogTrouble(f"{name} holds only a piece of its first line, so nothing was recorded. Begin a new check.")
    _check_schema(lines[0], name)
    records: list[AnyLine] = []
    byte = 0
    for number, line in enumerate(lines, start=1):
        try:
            records.append(_next(line.removesuffix(b"\n"), records, name, number, byte))
        except LogTrouble as fault:
            return Scan(lines=tuple(lines[: number - 1]), records=tuple(records), tail=b""), fault
        byte += len(line)
    behind = None
    if tail and isinstance(records[-1], Sealed):
        behind = BrokenLog(name, len(lines) + 1, byte, "stands behind the seal")
    return Scan(lines=tuple(lines), records=tuple(records), tail=tail), behind


def _cut_off_torn_end(data: bytes) -> tuple[list[bytes], bytes]:
    """Torn is a last line without its newline, or with NUL bytes in it: space that the disk gave but never filled.
    A last line that is whole but wrong is not torn, it was changed."""
    *whole, tail = data.split(b"\n")
    lines = [line + b"\n" for line in whole]
    if not tail and lines and b"\0" in lines[-1]:
        tail = lines.pop()
    return lines, tail


def _check_opening(opening: bytes, name: str) -> None:
    if not opening:
        raise LogTrouble(f"{name} is empty: the check stopped before it began. Begin a new check.")
    if not _OPENING.startswith(opening):
        raise LogTrouble(f"{name} is not a session log. Name a file that this program wrote (*.jsonl).")


def _check_schema(header: bytes, name: str) -> None:
    """Comes before the chain is checked, for another version may chain its lines in another way."""
    try:
        version = json.loads(header).get("schema")
    except (ValueError, RecursionError):
        return  # the chain says where it broke
    if version != SCHEMA:
        age = "newer" if isinstance(version, int) and version > SCHEMA else "different"
        raise LogTrouble(
            f"{name} was written by a {age} version of this program: its log format is version {version}, and this "
            f"program reads version {SCHEMA}. Read it with the version that wrote it; nothing was changed."
        )


def _next(line: bytes, so_far: Sequence[AnyLine], name: str, number: int, byte: int) -> AnyLine:
    """The record in the next line, if it follows those so far."""
    last = so_far[-1] if so_far else None
    if isinstance(last, Sealed):
        raise BrokenLog(name, number, byte, "stands behind the seal")
    if not unchanged(line, last.hash if last else ""):
        raise BrokenLog(name, number, byte, "is not the one that was written there: something was changed or moved")
    try:
        record = parse(line)
    except ValueError as error:
        raise LogTrouble(
            f"{name}: line {number}, which begins at byte {byte}, can't be read: {error}. "
            "Read the log with the version of this program that wrote it; nothing was changed or left out."
        ) from error
    if not _in_order(record, so_far):
        raise BrokenLog(name, number, byte, "is out of order")
    return record


def _in_order(record: AnyLine, so_far: Sequence[AnyLine]) -> bool:
    if isinstance(record, Header) or not so_far:
        return isinstance(record, Header) and not so_far
    if isinstance(record, Sealed):
        entries = sum(isinstance(line, Entry) for line in so_far)
        return (record.seq, record.head, record.count) == (len(so_far), so_far[-1].hash, entries)
    return (record.seq, record.prev) == (len(so_far), so_far[-1].hash)
