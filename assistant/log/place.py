"""Where session logs lie, what they are called, and how a new file comes to be there.

Law: a name is made from the wall time of the header and the fleet number, holds nothing that a common file system
refuses, and sorts by time. No file that exists is ever opened as a new one.
"""

from __future__ import annotations

import contextlib
import errno
import itertools
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import Path

import platformdirs

from assistant.core.trouble import LogTrouble
from assistant.log.chain import Header
from assistant.log.disk import Disk, trouble, write_through

SUFFIX = ".jsonl"


def default_folder() -> Path:
    """The folder of this user's session logs; it may not exist yet."""
    return platformdirs.user_data_path("gladhand", appauthor=False) / "checks"


def file_name(header: Header) -> str:
    """For example `2026-03-02_07-15-09_T-1042.jsonl`; the time is the local one of the header."""
    parts = [header.created[:10], header.created[11:19].replace(":", "-"), _safe(header.setup.fleet_number or "")]
    return "_".join(part for part in parts if part) + SUFFIX


def sound_folder(log: Path) -> Path:
    """Where the kept sound of the check in this log lies; there is none when no sound was kept."""
    return log.with_name(f"{log.stem}-sound")


def new_file(place: Path, header: Header, disk: Disk, least_free: int) -> tuple[Path, int]:
    """The path and descriptor of a new, empty file with this program as its only writer.

    `place`: the path itself when it ends in ".jsonl", else a folder. `least_free`: bytes that its disk must still have.
    Raises LogTrouble.
    """
    folder, names = _folder_and_names(place, header)
    try:
        disk.make_folder(folder)
        if disk.free(folder) < least_free:
            raise OSError(errno.ENOSPC, "nearly full")
        path, file = _first_free(folder, names, disk)
    except OSError as error:
        raise trouble("Can't begin the log", place, error) from error
    try:
        only_writer(path, file, disk)
    except LogTrouble:
        disk.close(file)
        raise
    return path, file


def set_aside(path: Path, tail: bytes, disk: Disk) -> Path:
    """Write the torn end of the log `path` to a file beside it. Raises OSError."""
    names = itertools.chain([f"{path.name}.torn"], (f"{path.name}.torn{n}" for n in itertools.count(2)))
    other, file = _first_free(path.parent, names, disk)
    try:
        write_through(disk, file, tail)
    finally:
        disk.close(file)
    disk.sync_folder(path.parent)
    return other


def only_writer(path: Path, file: int, disk: Disk) -> None:
    """Keep every other writer from the open file until it is closed. Raises LogTrouble when there is one."""
    try:
        disk.lock(file)
    except BlockingIOError as error:
        raise LogTrouble(f"{path} is being written by another check. Finish that one first.") from error
    except OSError as error:
        raise LogTrouble(
            f"{path} can't be kept for this program alone: its file system knows no locks ({error.strerror}). "
            "Choose a folder on a disk of this computer."
        ) from error


def _folder_and_names(place: Path, header: Header) -> tuple[Path, Iterator[str]]:
    if place.suffix == SUFFIX and not place.is_dir():
        return place.parent, iter([place.name])
    stem = file_name(header).removesuffix(SUFFIX)
    return place, itertools.chain([f"{stem}{SUFFIX}"], (f"{stem}_{n}{SUFFIX}" for n in itertools.count(2)))


def _first_free(folder: Path, names: Iterable[str], disk: Disk) -> tuple[Path, int]:
    """Create the first of the names that does not exist yet. Raises FileExistsError when none is left."""
    for name in names:
        with contextlib.suppress(FileExistsError):
            return folder / name, disk.create(folder / name)
    raise FileExistsError(errno.EEXIST, "exists")


def _safe(text: str) -> str:
    kept = "".join(char if char.isalnum() else "-" for char in unicodedata.normalize("NFC", text))
    return "-".join(part for part in kept.split("-") if part)[:40].rstrip("-")
