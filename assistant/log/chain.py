"""The lines of a session log, and the chain that joins them.

Law: a line is one JSON object in UTF-8, closed by one "\\n"; its last member is its hash, the SHA-256 of the 32 bytes
of the previous line's hash (nothing before the header) followed by the exact bytes of this line up to `,"hash":`.
What is hashed is what was written, never a record written out again. A line is read strictly or not at all: no
unknown kind or field, no key twice, no NaN or infinity.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Literal, NoReturn, TypeVar

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from assistant.core.events import Effect, Event, Record, Setup
from assistant.core.trouble import LogTrouble

SCHEMA = 1

# RFC 3339, section 5.6, with an upper-case T and Z; second 60 is legal (section 5.7).
WALL_TIME = (
    r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T([01][0-9]|2[0-3]):[0-5][0-9]:([0-5][0-9]|60)"
    r"(\.[0-9]+)?(Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9])$"
)
WallTime = Annotated[str, Field(pattern=WALL_TIME)]
Mode = Literal["live", "recording", "typed", "rehearsal"]
"""Where the events came from."""
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Linked(Record):
    """A line of the log. `hash` is empty only until `link` has made it."""

    hash: Hash = ""


class Header(Linked):
    """The first line: what the check was begun with. `created`: wall time, RFC 3339 with offset. `fingerprints`:
    SHA-256 of everything outside the log that shaped it (grammars, prompts, standard, model, recording), by name."""

    model_config = ConfigDict(populate_by_name=True)

    kind: Literal["header"] = "header"
    schema_version: Literal[1] = Field(default=1, alias="schema")
    program: str
    created: WallTime
    setup: Setup
    fingerprints: dict[str, Hash] = Field(default_factory=dict)
    mode: Mode
    recording: str | None = None


class Entry(Linked):
    """One event and the effects that it had. `t_ms`: time in the check. `mono_ns`: a clock that never steps, in
    nanoseconds; it runs through suspend where the machine has such a clock."""

    kind: Literal["entry"] = "entry"
    seq: int
    t_ms: int
    wall: WallTime
    mono_ns: int
    event: Event
    effects: tuple[Effect, ...]
    prev: Hash


class Note(Linked):
    """What happened to the log itself; `here` is the name of this file then. "recovered": a torn last line of `count`
    bytes was set aside in the file `other` (SHA-256 of its bytes: `sha256`). "continued": the `count` lines above stand
    in the file `other` too, which failed (`why`) or was left."""

    kind: Literal["note"] = "note"
    seq: int
    what: Literal["recovered", "continued"]
    count: int
    other: str
    here: str
    sha256: Hash | None = None
    why: str | None = None
    prev: Hash


class Sealed(Linked):
    """The last line of a finished check. `count`: its entries. `head`: the hash of the line before this one."""

    kind: Literal["sealed"] = "sealed"
    seq: int
    count: int
    head: Hash


AnyLine = Header | Entry | Note | Sealed
_LINES: TypeAdapter[AnyLine] = TypeAdapter(Annotated[AnyLine, Field(discriminator="kind")])
_ENDING = re.compile(rb',"hash":"([0-9a-f]{64})"}\Z')

L = TypeVar("L", bound=Linked)


def wall_time(text: str) -> datetime:
    """The moment of a wall time of a log; a leap second counts as the second before it. Raises LogTrouble for a day
    that no calendar has."""
    try:
        return datetime.fromisoformat(text.replace(":60", ":59"))
    except ValueError as error:
        raise LogTrouble(f'The log holds the time "{text}", which no calendar has: {error}.') from error


@contextlib.contextmanager
def recordable() -> Iterator[None]:
    """Raises LogTrouble for what can't be written down as it is."""
    try:
        yield
    except ValueError as error:
        raise LogTrouble(f"A record can't be written down as it is: {error}.") from error


def link(record: L, before: str) -> tuple[L, bytes]:
    """The record with its hash, and the bytes of its line with the closing newline. `before`: the hash of the previous
    line, "" for the header.

    Raises LogTrouble for a record that would not read back as it is (NaN, text that is not Unicode).
    """
    with recordable():
        body = record.model_dump_json(by_alias=True, exclude={"hash"}).encode().removesuffix(b"}")
        digest = _digest(before, body)
        line = body + b',"hash":"' + digest.encode() + b'"}'
        linked = record.model_copy(update={"hash": digest})
        if parse(line) != linked:
            raise ValueError("a value is not a finite number or has changed its type")
    return linked, line + b"\n"


def unchanged(line: bytes, before: str) -> bool:
    """Whether a line (without its newline) has the hash that its bytes and the line before it call for."""
    ending = _ENDING.search(line)
    return ending is not None and ending[1].decode() == _digest(before, line[: ending.start()])


def parse(line: bytes) -> AnyLine:
    """The record in a line (without its newline). Raises ValueError, with the reason in words."""
    try:
        _STRICT.decode(line.decode("utf-8"))
        return _LINES.validate_json(line)
    except ValidationError as error:
        raise ValueError(_in_words(error)) from error
    except RecursionError as error:
        raise ValueError("it is nested too deeply") from error


def _digest(before: str, body: bytes) -> str:
    return hashlib.sha256(bytes.fromhex(before) + body).hexdigest()


def _each_key_once(pairs: list[tuple[str, object]]) -> None:
    if len(dict(pairs)) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f'the key "{twice}" stands twice in one object')


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number of JSON")


_STRICT = json.JSONDecoder(object_pairs_hook=_each_key_once, parse_constant=_no_number)


def _in_words(error: ValidationError) -> str:
    first = error.errors(include_url=False)[0]
    place = ".".join(str(part) for part in first["loc"]) or "line"
    if first["type"] == "union_tag_invalid":
        return f'{place}: the kind "{first["ctx"]["tag"]}" is not known to this version of the program'
    if first["type"] == "extra_forbidden":
        return f"{place}: this field is not known to this version of the program"
    return f"{place}: {first['msg']}"
