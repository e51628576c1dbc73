"""A session log under examination: what it holds, and how far it can be relied on.

Law: a damaged log is never refused here, it is described; what stands behind its first fault is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from assistant.core.dialogue import Dialogue, State
from assistant.core.events import Record, Setup
from assistant.core.trouble import LogTrouble
from assistant.log import Session, salvage, sound_folder
from assistant.review.replay import recompute
from assistant.review.sounds import SoundCount, Sounds


class Integrity(Record):
    """`fault`: where the chain breaks. `difference`: the first entry that recomputes otherwise. `changed_since`: what
    shapes a check and is not the same as when this one was made. `head`: the first 8 hex digits of the last hash."""

    head: str
    entries: int
    sealed: bool
    torn: bool
    fault: str | None
    difference: str | None
    changed_since: tuple[str, ...]
    sounds: SoundCount

    @property
    def holds(self) -> bool:
        """Chain, recomputation and sounds hold, and nothing is torn off."""
        intact = self.fault is None and self.difference is None and not self.torn
        return intact and not (self.sounds.changed or self.sounds.missing)


@dataclass(frozen=True)
class Examined:
    """`state`: what the events come to, whether the log recomputes or not."""

    path: Path
    session: Session
    dialogue: Dialogue
    state: State
    sounds: Sounds
    integrity: Integrity


Making = Callable[[Setup], Dialogue]
Fingerprints = Callable[[Setup], Mapping[str, str]]


@dataclass(frozen=True)
class Opened:
    """A log with what stands before its first `fault`; None: it has none."""

    path: Path
    session: Session
    fault: LogTrouble | None
    sounds: Sounds

    def integrity(self, difference: str | None, fingerprints: Fingerprints) -> Integrity:
        """`difference`: the first one of the recomputation; `fingerprints`: those of today."""
        session = self.session
        return Integrity(
            head=session.head,
            entries=len(session.entries),
            sealed=session.sealed,
            torn=session.torn,
            fault=None if self.fault is None else str(self.fault),
            difference=difference,
            changed_since=changes(session.header.fingerprints, fingerprints(session.header.setup)),
            sounds=self.sounds.count(session.entries),
        )


def opened(path: Path) -> Opened:
    """Raises LogTrouble for what is no log or holds nothing that can be believed."""
    session, fault = salvage(path)
    if fault is not None and not session.entries:
        raise fault
    return Opened(path, session, fault, Sounds(sound_folder(path)))


def examine(log: Opened, making: Making, fingerprints: Fingerprints) -> Examined:
    """`making`: the dialogue of a setup; `fingerprints`: those of today. Raises LogTrouble for a log that holds no
    check, Trouble when its standard is not there."""
    dialogue = making(log.session.header.setup)
    state, difference = recompute(dialogue, log.session.entries)
    return Examined(log.path, log.session, dialogue, state, log.sounds, log.integrity(difference, fingerprints))


def changes(then: Mapping[str, str], now: Mapping[str, str]) -> tuple[str, ...]:
    """The names of the fingerprints that both have and that are not the same."""
    return tuple(sorted(name for name in now.keys() & then.keys() if now[name] != then[name]))
