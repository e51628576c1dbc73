"""A standard file from its text: the standard, or every mistake with line and field.

Law: a mistake is told in words that a person can act on. The line of a field is the first at which the file, cut off
there, already holds the field: the TOML reader itself finds it, so that no second understanding of TOML is needed.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import NamedTuple

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from assistant.core.contradictions import contradictions
from assistant.core.limit import Limit
from assistant.core.pressure import Pressure
from assistant.core.standard import GaugeRule, Requirement, Standard

Path = tuple[str | int, ...]

_MISSING = object()


class Mistake(NamedTuple):
    """`field`: like limits[3].at_most.psi; "" for the file as a whole."""

    line: int
    field: str
    message: str

    def __str__(self) -> str:
        return f"line {self.line}, {self.field}: {self.message}" if self.field else f"line {self.line}: {self.message}"


def examine(text: str) -> tuple[Standard | None, tuple[Mistake, ...]]:
    """The standard in a TOML text, or None and its mistakes, by line."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return None, (_syntax(text, str(error)),)
    try:
        # By way of JSON: strict checking takes TOML's arrays for tuples only there. A TOML date becomes its text.
        standard = Standard.model_validate_json(json.dumps(data, default=str))
    except ValidationError as error:
        return None, _mistakes(text, [(_path(details), _words(details)) for details in error.errors()])
    found = contradictions(standard)
    return (None if found else standard), _mistakes(text, found)


def _syntax(text: str, message: str) -> Mistake:
    place = re.search(r"\(at line (\d+), column \d+\)", message)
    line = int(place.group(1)) if place else len(text.splitlines())
    return Mistake(line, "", f"not TOML: {message.split(' (at ')[0]}")


def _path(details: ErrorDetails) -> Path:
    """Where the mistake is; pydantic marks a wrong key of a table by a step of its own."""
    return tuple(key for key in details["loc"] if key != "[key]")


def _mistakes(text: str, found: Sequence[tuple[Path, str]]) -> tuple[Mistake, ...]:
    prefixes = tuple(_readable_prefixes(text.splitlines())) if found else ()
    return tuple(sorted(Mistake(_line_of(prefixes, path), _name(path), message) for path, message in found))


def _name(path: Path) -> str:
    return "".join(f"[{key + 1}]" if isinstance(key, int) else f".{key}" for key in path).lstrip(".")


def _line_of(prefixes: Sequence[tuple[int, object]], path: Path) -> int:
    """The line on which the field, or the nearest table around it that is there, has come into being."""
    for known in (path[:length] for length in range(len(path), 0, -1)):
        line = next((line for line, data in prefixes if _at(data, known) is not _MISSING), None)
        if line is not None:
            return line
    return 1


def _readable_prefixes(lines: Sequence[str]) -> Iterator[tuple[int, object]]:
    for count in range(1, len(lines) + 1):
        try:
            yield count, tomllib.loads("\n".join(lines[:count]))
        except tomllib.TOMLDecodeError:  # inside an array or a long string
            continue


def _at(data: object, path: Path) -> object:
    for key in path:
        known = key in data if isinstance(data, dict) else isinstance(data, list) and key in range(len(data))
        if not known:
            return _MISSING
        data = data[key]  # type: ignore[index]
    return data


def _words(details: ErrorDetails) -> str:
    """Pydantic's finding in plain words."""
    kind, context, loc = details["type"], details.get("ctx", {}), details["loc"]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return _unknown(str(loc[-1]), loc)
    if kind == "literal_error":
        return f"{details['input']!r} is none of: {context['expected']}"
    if kind == "string_pattern_mismatch" and loc[-1] == "id":
        return "only small letters, digits and single hyphens between them"
    if kind == "string_pattern_mismatch":
        return 'a date like 2019, 2019-05 or 2019-05-01, or "undated"'
    return details["msg"].removeprefix("Input ").removeprefix("Value error, ")


def _unknown(name: str, loc: Path) -> str:
    models: dict[str, type[BaseModel]] = {"limits": Limit, "before_moving": Requirement, "before_leakage": Requirement}
    models |= {"gauge": GaugeRule}
    model: type[BaseModel] = models.get(str(loc[0]), Standard) if len(loc) > 1 else Standard
    if loc[-2:-1] and loc[-2] in ("pressure", "at_least", "at_most", "less_than", "clear_fail", "from", "to"):
        model = Pressure
    names = [field.alias or key for key, field in model.model_fields.items()]
    close = get_close_matches(name, names, n=1)
    return "there is no such field; " + (f'did you mean "{close[0]}"?' if close else f"there are {', '.join(names)}")
