"""The kept sound of a check: the file of each utterance, found by its SHA-256 in the log.

Law: a file counts only if its bytes have the hash that the log holds; its name is no more than a hint of what is wrong.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from assistant.core.events import Heard, Record
from assistant.log import Entry


class SoundCount(Record):
    """Of the utterances whose sound was kept: how many files are whole, have other bytes, or are gone."""

    kept: int
    whole: int
    changed: int
    missing: int


class Sounds:
    """The sound files in `folder`; a folder that is not there holds none."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._by_hash = {hashlib.sha256(data).hexdigest(): data for data in map(_bytes, sorted(folder.glob("*.flac")))}

    def of(self, heard: Heard) -> bytes | None:
        """The FLAC file of an utterance, byte for byte as it was kept; None when there is none."""
        return self._by_hash.get(heard.sound) if heard.sound else None

    def count(self, entries: Iterable[Entry]) -> SoundCount:
        """Every utterance of a check whose sound was kept, against the files."""
        kept = [entry.event for entry in entries if isinstance(entry.event, Heard) and entry.event.sound]
        gone = [heard for heard in kept if self.of(heard) is None]
        changed = sum((self._folder / f"{max(0, heard.start_ms):08d}.flac").exists() for heard in gone)
        whole = len(kept) - len(gone)
        return SoundCount(kept=len(kept), whole=whole, changed=changed, missing=len(gone) - changed)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""  # a file that can't be read is as good as changed
