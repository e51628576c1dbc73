"""A small check as it stands in a log, for the tests of the session log; and a chain made without the program."""

from __future__ import annotations

import hashlib
import itertools
import re
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from multiprocessing.connection import Connection
from pathlib import Path

from assistant.cli.build import fingerprints
from assistant.core.events import (
    Begun,
    Close,
    Due,
    Effect,
    Ended,
    Event,
    Heard,
    Judged,
    Line,
    Reading,
    Rival,
    Said,
    Say,
    Setup,
    StartTimer,
    Take,
    Verdict,
    Word,
)
from assistant.log import Disk, Entry, Header, SessionLog
from tests.walk import Walk

START = datetime(2026, 3, 2, 7, 15, 9, 250_000, tzinfo=timezone(timedelta(hours=-6)))
SETUP = Setup(standard="common-practice", driver="Robin Example", fleet_number="T-1042", route="yard to quarry")
READINGS = (
    Reading(value=118.0, unit="psi", needle="primary", at_ms=61_200),
    Reading(value=116.5, unit="psi", needle="secondary", at_ms=62_050),
)
VERDICT = Verdict(
    test="governor-cut-out",
    outcome="pass",
    limit="at most 140 psi",
    margin=22.0,
    unit="psi",
    reason=Line(prompt="reason.at-most", values={"reading": READINGS[0], "limit": 140, "by": 22.0, "gap": None}),
    source="common practice, no source",
)
CHECK: tuple[tuple[Event, tuple[Effect, ...]], ...] = (
    (Begun(setup=SETUP), (Say(lines=(Line(prompt="opening.caution"),)),)),
    (Said(text="Air brake check. «Ready» ≥ 100 psi"), (StartTimer(timer="build-up/watch/1", due_ms=45_000),)),
    (
        Heard(
            text="primary one eighteen",
            start_ms=60_000,
            end_ms=62_400,
            words=(Word(text="primary", start_ms=60_000, end_ms=60_700),),
            rivals=(Rival(text="primary one eighty", behind=7.25),),
            snr_db=21.5,
        ),
        (Take(test="governor-cut-out", slot="at", readings=READINGS), Judged(verdict=VERDICT)),
    ),
    (Due(timer="build-up/watch/1"), ()),
    (Ended(why="recording over"), (Close(complete=False),)),
)


# Lines without closing brace and hash, for `chained`.
HEADER_BODY = (
    '{"kind":"header","schema":1,"program":"by hand","created":"2026-03-02T07:15:09Z",'
    '"setup":{"standard":"common-practice"},"mode":"typed"'
)
ENTRY_BODY = (
    '{"kind":"entry","seq":1,"t_ms":0,"wall":"2026-03-02T07:15:09Z","mono_ns":1,'
    '"event":{"kind":"said","text":"a"},"effects":[],"prev":"PREV"'
)
SEAL_BODY = '{"kind":"sealed","seq":2,"count":1,"head":"PREV"'


class NoFlush(Disk):
    """A disk that is never told to flush: for tests that need many logs and no power cut."""

    def sync(self, file: int) -> None:
        pass

    def sync_folder(self, folder: Path) -> None:
        pass


class SmallBites(NoFlush):
    """A disk that takes one byte at a time."""

    def write(self, file: int, data: bytes) -> int:
        return super().write(file, data[:1])


def wall(t_ms: int) -> str:
    return (START + timedelta(milliseconds=t_ms)).isoformat(timespec="milliseconds")


def header(fleet_number: str | None = "T-1042") -> Header:
    return Header(
        program="gladhand 0.1.0",
        created=wall(0),
        setup=SETUP.model_copy(update={"fleet_number": fleet_number}),
        fingerprints={"prompts": hashlib.sha256(b"prompts").hexdigest()},
        mode="recording",
        recording="demo.flac",
    )


def add(log: SessionLog, number: int) -> Entry:
    """Append the event `number` (from 0) of the sample check, over and over, each with its own time."""
    event, effects = CHECK[number % len(CHECK)]
    t_ms = 1_500 * number
    return log.append(t_ms, wall(t_ms), 7_000_000_000 + t_ms * 1_000_000, event, effects)


def sample_log(path: Path, *, entries: int = len(CHECK), sealed: bool = True) -> list[Entry]:
    """Write a log at `path`; the entries in it."""
    with SessionLog.create(path, header(), disk=NoFlush()) as log:
        written = [add(log, number) for number in range(entries)]
        if sealed:
            log.seal()
    return written


def log_of(walk: Walk, path: Path, *, created: str | None = None, sealed: bool = True, **setup: str) -> Path:
    """Write the check of a walk as a session log. `setup`: driver, fleet_number, route."""
    about = walk.setup.model_copy(update=setup)
    begun = created or wall(0)
    first = header().model_copy(update={"setup": about, "created": begun, "mode": "typed", "recording": None})
    first = first.model_copy(update={"fingerprints": fingerprints(about)})
    with SessionLog.create(path, first, disk=NoFlush()) as log:
        for t_ms, event, effects in walk.events:
            at = datetime.fromisoformat(begun) + timedelta(milliseconds=t_ms)
            event = event.model_copy(update={"setup": about}) if isinstance(event, Begun) else event
            log.append(t_ms, at.isoformat(timespec="milliseconds"), t_ms * 1_000_000, event, effects)
        if sealed:
            log.seal()
    return path


def write_until_killed(place: Path, confirm: Connection, in_small_bites: bool) -> None:
    """Append to a new log at `place` for ever, and send each entry's number once it was confirmed."""
    log = SessionLog.create(place, header(), disk=SmallBites() if in_small_bites else Disk())
    for number in itertools.count():
        add(log, number)
        confirm.send_bytes(number.to_bytes(4, "big"))


def chained(bodies: Sequence[str]) -> bytes:
    """Lines with a right chain, by the rule as it is documented, made without the program. A body is the text of a line
    without its closing brace and hash; PREV in it stands for the hash of the line before."""
    out, previous = b"", ""
    for body in bodies:
        text = body.replace("PREV", previous).encode()
        digest = hashlib.sha256(bytes.fromhex(previous) + text).hexdigest()
        out += text + b',"hash":"' + digest.encode() + b'"}\n'
        previous = digest
    return out


def unlinked(log: bytes) -> list[str]:
    """The lines of a log without their links, for `chained`."""
    lines = [re.sub(rb',"hash":"[0-9a-f]{64}"}$', b"", line).decode() for line in log.splitlines()]
    return [re.sub(r'("prev"|"head"):"[0-9a-f]{64}"', r'\1:"PREV"', line) for line in lines]
