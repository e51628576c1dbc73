"""The session log on disk: an append-only, hash-chained file of everything that happened in a check."""

from assistant.log.chain import SCHEMA, Entry, Header, Mode, Note, wall_time
from assistant.log.disk import Disk
from assistant.log.place import default_folder, sound_folder
from assistant.log.reader import BrokenLog, Session, read, salvage, verify
from assistant.log.writer import SessionLog, reopen

__all__ = [
    "SCHEMA",
    "BrokenLog",
    "Disk",
    "Entry",
    "Header",
    "Mode",
    "Note",
    "Session",
    "SessionLog",
    "default_folder",
    "read",
    "reopen",
    "salvage",
    "sound_folder",
    "verify",
    "wall_time",
]
