"""The index of a folder of logs: an SQLite file that only saves reading them again.

Law: it can be thrown away at any time; nothing is in it that does not follow from the logs. A file is read again when
its size or its time has changed, an index of another version or one that does not open is made anew.
"""

from __future__ import annotations

import gc
import hashlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from functools import partial
from pathlib import Path

from pydantic import ValidationError

from assistant import __version__
from assistant.core.trouble import BadInput
from assistant.review.history.reading import Check, Damaged, Making, look

_MANY = 400  # below this, starting processes costs more than it brings
_BATCH = 50
_SAVED_EVERY = 500
_TABLE = """
CREATE TABLE IF NOT EXISTS logs (
    name TEXT PRIMARY KEY, size INTEGER NOT NULL, changed_ns INTEGER NOT NULL, fault TEXT, held TEXT
) WITHOUT ROWID
"""

Stamp = tuple[int, int]
Row = tuple[str, str | None, str | None]
"""The name of a log, its fault, and what is held of it."""
Reader = Callable[[str], Row]
Progress = Callable[[int, int], None]


def update(
    folder: Path, place: Path, progress: Progress, making: Making, *, anew: bool = False
) -> tuple[list[Check], list[Damaged]]:
    """Every check below `folder`, oldest first, and the files that are none.

    `place`: the folder of the indexes; `progress` gets how many of how many logs were read; `making`: as in `look`;
    `anew`: read all again. Raises BadInput for a folder that can't be read. An index that can't be written costs time
    and nothing else.
    """
    found = _files(folder)
    try:
        with closing(_opened(place / _name(folder), anew)) as index:
            return _brought_up_to_date(index, partial(_row, folder, making), found, progress)
    except (sqlite3.Error, ValidationError):  # in use by another process for long, its disk is full, a cell is damaged
        with closing(_in_memory()) as index:
            return _brought_up_to_date(index, partial(_row, folder, making), found, progress)


def _brought_up_to_date(
    index: sqlite3.Connection, reader: Reader, found: dict[str, Stamp], progress: Progress
) -> tuple[list[Check], list[Damaged]]:
    """What the index holds after reading the logs that are new or have changed."""
    kept = {name: (size, at) for name, size, at in index.execute("SELECT name, size, changed_ns FROM logs")}
    stale = [name for name, stamp in found.items() if kept.get(name) != stamp]
    index.executemany("DELETE FROM logs WHERE name = ?", [(name,) for name in kept.keys() - found.keys()])
    for number, (name, fault, held) in enumerate(_looked(reader, stale), start=1):
        index.execute("INSERT OR REPLACE INTO logs VALUES (?, ?, ?, ?, ?)", (name, *found[name], fault, held))
        progress(number, len(stale))
        if number % _SAVED_EVERY == 0:
            index.commit()
    index.commit()
    rows = index.execute("SELECT name, fault, held FROM logs").fetchall()
    checks = [Check.model_validate_json(held) for _, fault, held in rows if fault is None]
    damaged = [Damaged(log=name, why=fault) for name, fault, _ in rows if fault is not None]
    return sorted(checks, key=lambda check: (check.day, check.log)), damaged


def _files(folder: Path) -> dict[str, Stamp]:
    """Size and time of every log below the folder, by its path from there."""
    if not folder.is_dir():
        raise BadInput(f"{folder} is not a folder. Name the folder that holds session logs (.jsonl).")
    return dict(_walk(str(folder), ""))


def _walk(folder: str, above: str) -> Iterator[tuple[str, Stamp]]:
    try:
        with os.scandir(folder) as items:
            inside = sorted(items, key=lambda item: item.name)
    except OSError as error:
        raise BadInput(f"Can't read {folder}: {error.strerror}. Name a folder that you may read.") from error
    for item in inside:
        name = f"{above}{item.name}"
        if item.is_dir(follow_symlinks=False):
            yield from _walk(item.path, f"{name}/")
        elif item.name.endswith(".jsonl"):
            yield name, _stamp(item)


def _stamp(item: os.DirEntry[str]) -> Stamp:
    try:
        about = item.stat()
    except OSError:
        return 0, 0  # a link to nothing; reading it will say so
    return about.st_size, about.st_mtime_ns


def _version() -> int:
    """Another one for another program and for another shape of what is held."""
    shape = json.dumps([__version__, _TABLE, Check.model_json_schema()], sort_keys=True)
    return int.from_bytes(hashlib.sha256(shape.encode()).digest()[:3]) + 1


def _name(folder: Path) -> str:
    return f"{hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:16]}.sqlite"


def _opened(path: Path, anew: bool) -> sqlite3.Connection:
    """The index, empty if it has to be made anew; in memory where the file can't be."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if anew:
            path.unlink(missing_ok=True)
        return _usable(path)
    except (OSError, sqlite3.Error):
        return _in_memory()


def _in_memory() -> sqlite3.Connection:
    index = sqlite3.connect(":memory:")
    index.execute(_TABLE)
    return index


def _usable(path: Path) -> sqlite3.Connection:
    index, version = sqlite3.connect(path), _version()
    try:
        (made_by,) = index.execute("PRAGMA user_version").fetchone()
        sound = made_by in (0, version)
        if sound:
            index.execute(_TABLE)
            index.execute("SELECT name, size, changed_ns, fault, held FROM logs LIMIT 1").fetchall()
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        index.close()
        path.unlink()
        index = sqlite3.connect(path)
        index.execute(_TABLE)
    index.execute(f"PRAGMA user_version = {version}")
    return index


def _looked(reader: Reader, names: list[str]) -> Iterable[Row]:
    """Many logs are read by several processes, in no other order than the names'."""
    if len(names) < _MANY:
        yield from map(reader, names)
        return
    with ProcessPoolExecutor(initializer=gc.freeze) as pool:  # what was loaded is no garbage: don't look again
        yield from pool.map(reader, names, chunksize=_BATCH)


def _row(folder: Path, making: Making, name: str) -> Row:
    """What is kept of one log, made where it was read: text passes between processes with the least work."""
    seen = look(folder, name, making)
    return (name, seen.why, None) if isinstance(seen, Damaged) else (name, None, seen.model_dump_json())
