"""Writing a session log: what `append` has returned, a crash can't take back.

Law: a record goes into memory, then to the end of the file, then through fsync to the disk, and only then does `append`
return. A file that failed once is never written again: the check goes on in another file, which gets everything,
including the record that failed. Nothing written is ever changed; a torn end is set aside in a file of its own.
The promise holds against a killed program, a crashed system and a power cut, as far as the drive obeys a flush.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Literal, NoReturn, Self, TypeVar

from assistant.core.events import Effect, Event
from assistant.core.trouble import LogTrouble
from assistant.log.chain import AnyLine, Entry, Header, Note, Sealed, link
from assistant.log.disk import Disk, trouble, write_through
from assistant.log.place import folder_and_names, torn_names
from assistant.log.reader import Session, read, scan

# A check writes well under a megabyte (tests/bench/log_cost.py); a nearly full disk is better known at the start.
_LEAST_FREE = 4 * 1024 * 1024

R = TypeVar("R", Header, Entry, Note, Sealed)


class SessionLog:
    """The one writer of an open log: made by `create`, `reopen` or `continue_in`, used by one thread."""

    def __init__(
        self, path: Path, disk: Disk, file: int, size: int, lines: Iterable[bytes], records: Iterable[AnyLine]
    ) -> None:
        """For this module. `size`: bytes that the file has now."""
        self.path = path
        self._disk = disk
        self._file: int | None = file
        self._size = size
        self._lines = list(lines)
        self._records = list(records)
        self._failure: str | None = None

    @classmethod
    def create(cls, place: Path, header: Header, *, disk: Disk | None = None) -> Self:
        """Begin a log. `place`: a path that ends in ".jsonl", or a folder, where the name is made from the header.

        Folders are made as needed. Raises LogTrouble when the log can't be written there.
        """
        disk = disk or Disk()
        first, line = _linked(header, "")
        return cls._begin(place, disk, [line], [first], least_free=_LEAST_FREE)

    @classmethod
    def _begin(
        cls, place: Path, disk: Disk, lines: Sequence[bytes], records: Sequence[AnyLine], least_free: int = 0
    ) -> Self:
        path, file = _new_file(place, records[0], disk, least_free)
        log = cls(path, disk, file, 0, lines, records)
        log._store(b"".join(lines))
        try:
            disk.sync_folder(path.parent)
        except OSError as error:
            log._fail(trouble("Can't begin the log", path, error))
        return log

    @property
    def head(self) -> str:
        """The first 8 hex digits of the last record's hash, for people to note down."""
        return self._records[-1].hash[:8]

    @property
    def failed(self) -> bool:
        """Whether the file failed, so that only `continue_in` can go on."""
        return self._failure is not None

    def append(self, t_ms: int, wall: str, mono_ns: int, event: Event, effects: Sequence[Effect]) -> Entry:
        """Record an event and its effects; on the disk when this returns. `wall`: RFC 3339 with offset.

        Raises LogTrouble. If `failed` is then set, the record is kept in memory and `continue_in` writes it: don't append
        it again. If not, the record itself could not be written down (NaN, text that is not Unicode), and the log goes on.
        """
        last = self._last_of_open()
        with _recordable():
            entry = Entry(
                seq=len(self._records),
                t_ms=t_ms,
                wall=wall,
                mono_ns=mono_ns,
                event=event,
                effects=tuple(effects),
                prev=last.hash,
            )
        return self._add(entry)

    def seal(self) -> None:
        """Record that the check is over, and close. Raises LogTrouble; `continue_in` then seals the new file."""
        last = self._last_of_open()
        entries = sum(isinstance(record, Entry) for record in self._records)
        self._add(Sealed(seq=len(self._records), count=entries, head=last.hash))
        self.close()

    def continue_in(self, place: Path) -> SessionLog:
        """Go on in a new file, which gets every line of this one and a note that names both.

        What failed here has then been done there: the entry is in, the seal is set. `place`: as in `create`. Raises
        LogTrouble when the new file fails too; this log still holds everything then, and another place can be tried.
        """
        sealing = isinstance(self._records[-1], Sealed)
        if sealing and not self.failed:
            raise LogTrouble(f"{self.path.name} is sealed, so the check in it can't go on. Begin a new check.")
        self.close()
        keep = len(self._records) - sealing
        fresh = SessionLog._begin(place, self._disk, self._lines[:keep], self._records[:keep])
        fresh._note("continued", count=keep, other=self.path, why=self._failure)
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

    def _last_of_open(self) -> AnyLine:
        """The last record, if another one may follow it."""
        if self._failure is not None:
            raise LogTrouble(f"{self._failure} Go on with the check in another file.")
        if self._file is None:
            raise LogTrouble(f"{self.path.name} is closed. Resume the check to go on with it.")
        return self._records[-1]

    def _add(self, record: R) -> R:
        linked, line = _linked(record, self._records[-1].hash)
        self._lines.append(line)
        self._records.append(linked)
        self._store(line)
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
            seq=len(self._records),
            what=what,
            count=count,
            other=_readable(other),
            here=_readable(self.path),
            sha256=sha256,
            why=why,
            prev=self._records[-1].hash,
        )
        self._add(note)

    def _store(self, data: bytes) -> None:
        assert self._file is not None  # _last_of_open was asked
        # Holds if something else than a failure of the disk ends this, such as Ctrl-C: how far it came is not known.
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
        assert self._file is not None
        try:
            other = _set_aside(self.path, tail, self._disk)
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
        _lock(path, file, disk)
        found = scan(disk.read(file), path.name)
        if found.session.sealed:
            raise LogTrouble(f"{path.name} is sealed: the check in it is over. Begin a new check.")
    except OSError as error:
        disk.close(file)
        raise trouble("Can't go on with the log", path, error) from error
    except LogTrouble:
        disk.close(file)
        raise
    log = SessionLog(path, disk, file, sum(map(len, found.lines)), found.lines, found.records)
    if found.tail:
        log._recover(found.tail)
    return log, found.session


def _new_file(place: Path, header: AnyLine, disk: Disk, least_free: int) -> tuple[Path, int]:
    """The path and descriptor of a new, empty, locked file."""
    assert isinstance(header, Header)
    folder, names = folder_and_names(place, header)
    try:
        disk.make_folder(folder)
        if disk.free(folder) < least_free:
            raise OSError(errno.ENOSPC, "nearly full")
        path, file = _first_free(folder, names, disk)
    except OSError as error:
        raise trouble("Can't begin a log in", folder, error) from error
    try:
        _lock(path, file, disk)
    except LogTrouble:
        disk.close(file)
        raise
    return path, file


def _first_free(folder: Path, names: Iterable[str], disk: Disk) -> tuple[Path, int]:
    """Create the first of the names that does not exist yet. Raises FileExistsError when there is no other."""
    for name in names:
        with contextlib.suppress(FileExistsError):
            return folder / name, disk.create(folder / name)
    raise FileExistsError(errno.EEXIST, "exists")


def _lock(path: Path, file: int, disk: Disk) -> None:
    try:
        disk.lock(file)
    except BlockingIOError as error:
        raise LogTrouble(f"{path} is being written by another check. Finish that one first.") from error
    except OSError as error:
        raise LogTrouble(
            f"{path} can't be kept for this program alone, as its file system knows no locks ({error.strerror}). "
            "Choose a folder on a disk of this computer."
        ) from error


def _set_aside(path: Path, tail: bytes, disk: Disk) -> Path:
    other, file = _first_free(path.parent, torn_names(path.name), disk)
    try:
        write_through(disk, file, tail)
    finally:
        disk.close(file)
    disk.sync_folder(path.parent)
    return other


def _linked(record: R, before: str) -> tuple[R, bytes]:
    with _recordable():
        return link(record, before)


@contextlib.contextmanager
def _recordable() -> Iterator[None]:
    try:
        yield
    except ValueError as error:
        raise LogTrouble(f"A record can't be written down as it is: {error}.") from error


def _readable(path: Path) -> str:
    """The path as text; bytes of a name that are no text become question marks."""
    return str(path).encode(errors="replace").decode()
