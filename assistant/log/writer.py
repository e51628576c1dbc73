"""Writing a session log: what `append` has returned, a crash can't take back.

Law: a record goes to the end of the file, then through fsync to the disk, and only then does `append` return. A file
that failed once is never written again; the check goes on in another file, which gets every record, also the one that
failed. Nothing written is ever changed; a torn end is set aside in a file of its own.
The promise holds against a killed program, a crashed system and a power cut, as far as the drive obeys a flush.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal, NoReturn, Self, TypeVar

from assistant.core.events import Effect, Event
from assistant.core.trouble import LogTrouble
from assistant.log.chain import AnyLine, Entry, Header, Note, Sealed, link, recordable
from assistant.log.disk import Disk, trouble, write_through
from assistant.log.place import new_file, only_writer, set_aside
from assistant.log.reader import Session, read, scan

# A check writes well under a megabyte (tests/bench/log_cost.py); a nearly full disk is better known at the start.
_LEAST_FREE = 4 * 1024 * 1024

Line = tuple[bytes, AnyLine]
"""A line of the file, with its newline, and the record in it."""
R = TypeVar("R", Header, Entry, Note, Sealed)


class SessionLog:
    """The one writer of an open log: made by `create`, `reopen` or `continue_in`, used by one thread."""

    def __init__(self, path: Path, disk: Disk, file: int, lines: Iterable[Line] = ()) -> None:
        """For this module. `lines`: what stands in the file."""
        self.path = path
        self._disk = disk
        self._file: int | None = file
        self._lines = list(lines)
        self._size = sum(len(line) for line, _ in self._lines)
        self._failure: str | None = None

    @classmethod
    def create(cls, place: Path, header: Header, *, disk: Disk | None = None) -> Self:
        """Begin a log. `place`: a path that ends in ".jsonl", or a folder, where the name is made from the header.

        Folders are made as needed. Raises LogTrouble when the log can't be written there.
        """
        first, line = link(header, "")
        return cls._begin(place, disk or Disk(), [(line, first)], _LEAST_FREE)

    @classmethod
    def _begin(cls, place: Path, disk: Disk, lines: Sequence[Line], least_free: int = 0) -> Self:
        header = lines[0][1]
        assert isinstance(header, Header)
        path, file = new_file(place, header, disk, least_free)
        log = cls(path, disk, file)
        log._store(b"".join(line for line, _ in lines))
        log._lines.extend(lines)
        try:
            disk.sync_folder(path.parent)
        except OSError as error:
            log._fail(trouble("Can't begin the log", path, error))
        return log

    @property
    def head(self) -> str:
        """The first 8 hex digits of the last record's hash, for people to note down."""
        return self._last.hash[:8]

    @property
    def failed(self) -> bool:
        """Whether the file failed, so that only `continue_in` can go on."""
        return self._failure is not None

    def append(self, t_ms: int, wall: str, mono_ns: int, event: Event, effects: Sequence[Effect]) -> Entry:
        """Record an event and its effects; they are on the disk when this returns. `t_ms`: time in the check; `wall`:
        RFC 3339 with offset; `mono_ns`: of a clock that never steps.

        Raises LogTrouble. If the log has `failed`, it keeps the entry and `continue_in` writes it: don't append it
        again. If not, the entry can't be written down as it is (NaN, text that is not Unicode); the log can go on.
        """
        self._check_open()
        with recordable():
            entry = Entry(
                seq=len(self._lines),
                t_ms=t_ms,
                wall=wall,
                mono_ns=mono_ns,
                event=event,
                effects=tuple(effects),
                prev=self._last.hash,
            )
        return self._add(entry)

    def seal(self) -> None:
        """Record that the check is over, and close. Raises LogTrouble as `append` does; `continue_in` then seals."""
        self._check_open()
        entries = sum(isinstance(record, Entry) for _, record in self._lines)
        self._add(Sealed(seq=len(self._lines), count=entries, head=self._last.hash))
        self.close()

    def continue_in(self, place: Path) -> SessionLog:
        """Go on in a new file, which gets every record of this one and a note that names both. `place`: as in `create`.

        What failed here is then done there: the entry is in, the seal is set. Raises LogTrouble when the new file fails
        too; this log still keeps everything then, and another place can be tried. The file that failed stays as it is.
        """
        sealing = isinstance(self._last, Sealed)
        if sealing and not self.failed:
            raise LogTrouble(f"{self.path.name} is sealed, so the check in it can't go on. Begin a new check.")
        self.close()
        lines = self._lines[:-1] if sealing else self._lines
        fresh = SessionLog._begin(place, self._disk, lines)
        fresh._note("continued", count=len(lines), other=self.path, why=self._failure)
        if sealing:
            fresh.seal()
        return fresh

    def close(self) -> None:
        """Let go of the file without sealing it; the check can be resumed. Does nothing the second time."""
        if self._file is not None:
            with contextlib.suppress(OSError):  # everything that counts was flushed before
                self._disk.close(self._file)
            self._file = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def _last(self) -> AnyLine:
        return self._lines[-1][1]

    def _check_open(self) -> None:
        if isinstance(self._last, Sealed):
            raise LogTrouble(f"{self.path.name} is sealed: the check in it is over. Begin a new check.")
        if self._file is None and self._failure is None:
            raise LogTrouble(f"{self.path.name} is closed. Resume the check to go on with it.")

    def _add(self, record: R) -> R:
        linked, line = link(record, self._last.hash)
        self._lines.append((line, linked))
        if self._failure is not None:
            raise LogTrouble(f"{self._failure} The check has to go on in another file.")
        try:
            self._store(line)
        except LogTrouble:
            raise
        except BaseException:  # such as Ctrl-C: the caller does not know either whether this happened, so it did not
            self._lines.pop()
            raise
        return linked

    def _note(
        self,
        what: Literal["recovered", "continued"],
        count: int,
        other: Path,
        sha256: str | None = None,
        why: str | None = None,
    ) -> None:
        note = Note(
            seq=len(self._lines),
            what=what,
            count=count,
            other=_readable(other),
            here=_readable(self.path),
            sha256=sha256,
            why=why,
            prev=self._last.hash,
        )
        self._add(note)

    def _store(self, data: bytes) -> None:
        assert self._file is not None  # _check_open was asked, or the file is new
        # Stays when something else than the disk ends this, such as Ctrl-C: how far the file came is then not known.
        self._failure = f"Writing to {self.path} was broken off."
        try:
            write_through(self._disk, self._file, data)
            size = self._disk.size(self._file)
        except OSError as error:
            self._fail(trouble("Can't write to the log", self.path, error))
        self._size += len(data)
        if size != self._size:
            self._fail(LogTrouble(f"Another program has changed {self.path} while the check was going on."))
        self._failure = None

    def _recover(self, tail: bytes) -> None:
        """Put the torn end into a file of its own, take it off the log, and record that."""
        assert self._file is not None  # it was just opened
        try:
            other = set_aside(self.path, tail, self._disk)
            self._disk.truncate(self._file, self._size)
            self._disk.sync(self._file)
        except OSError as error:
            self._fail(trouble("Can't recover the log", self.path, error))
        self._note("recovered", len(tail), other, sha256=hashlib.sha256(tail).hexdigest())

    def _fail(self, why: LogTrouble) -> NoReturn:
        self._failure = str(why)
        self.close()
        raise why


def reopen(path: Path, *, disk: Disk | None = None) -> tuple[SessionLog, Session]:
    """Open a log to go on with its check, and what it held. A torn end is set aside first, in `<name>.torn`.

    Raises LogTrouble for a log that is sealed, in use, can't be written, or that `read` refuses.
    """
    disk = disk or Disk()
    read(path)  # nothing is opened for writing that is no log
    try:
        file = disk.open(path)
    except OSError as error:
        raise trouble("Can't go on with the log", path, error) from error
    try:
        only_writer(path, file, disk)
        found = scan(disk.read(file), path.name)
        if found.session.sealed:
            raise LogTrouble(f"{path.name} is sealed: the check in it is over. Begin a new check.")
    except OSError as error:
        disk.close(file)
        raise trouble("Can't go on with the log", path, error) from error
    except LogTrouble:
        disk.close(file)
        raise
    log = SessionLog(path, disk, file, zip(found.lines, found.records, strict=True))
    if found.tail:
        log._recover(found.tail)
    return log, found.session


def _readable(path: Path) -> str:
    """The path as text; bytes of a name that are no text become question marks."""
    return str(path).encode(errors="replace").decode()
