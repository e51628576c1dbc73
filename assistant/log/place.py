"""Where session logs lie and what they are called.

Law: a name is made from the wall time of the header and the fleet number, holds nothing that any common file system
refuses, and sorts by time.
"""

from __future__ import annotations

import itertools
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import platformdirs

from assistant.log.chain import Header

SUFFIX = ".jsonl"


def default_folder() -> Path:
    """The folder of this user's session logs; it may not exist yet."""
    return platformdirs.user_data_path("gladhand", appauthor=False) / "checks"


def file_name(header: Header) -> str:
    """For example `2026-03-02_07-15-09_T-1042.jsonl`; the time is the local one of the header."""
    parts = [header.created[:10], header.created[11:19].replace(":", "-"), _safe(header.setup.fleet_number or "")]
    return "_".join(part for part in parts if part) + SUFFIX


def folder_and_names(place: Path, header: Header) -> tuple[Path, Iterator[str]]:
    """Where a new log goes, and the names to try there: the one that `place` ends in when that is named like a log,
    else names made from the header, in the folder `place`."""
    if place.suffix == SUFFIX and not place.is_dir():
        return place.parent, iter([place.name])
    name = file_name(header)
    return place, itertools.chain([name], (f"{name.removesuffix(SUFFIX)}_{n}{SUFFIX}" for n in itertools.count(2)))


def torn_names(name: str) -> Iterator[str]:
    """The names to try for the torn end of a log."""
    return itertools.chain([f"{name}.torn"], (f"{name}.torn{n}" for n in itertools.count(2)))


def _safe(text: str) -> str:
    kept = (char if char.isalnum() else "-" for char in unicodedata.normalize("NFC", text))
    return "-".join(part for part in "".join(kept).split("-") if part)[:40].rstrip("-")
