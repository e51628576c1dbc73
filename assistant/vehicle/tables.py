"""TOML files of this room: read, and checked against a model, with errors that say what to correct."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from assistant.core.trouble import BadInput


class Part(BaseModel):
    """What every table has in common: it can't be changed and holds nothing that was not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


Model = TypeVar("Model", bound=Part)


def read(path: Path) -> dict[str, Any]:
    """The tables of a TOML file. Raises BadInput when it is missing or is not TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise BadInput(f"The file {path} can't be read: {error}. Write it as TOML in UTF-8.") from None


def checked(model: type[Model], tables: dict[str, Any], path: Path) -> Model:
    """The tables as a model. Raises BadInput that names every field at fault."""
    try:
        return model.model_validate(tables)
    except ValidationError as error:
        faults = "; ".join(_plainly(list(each["loc"]), each["msg"]) for each in error.errors())
        raise BadInput(f"The file {path} can't be used: {faults}. Correct these fields.") from None


def _plainly(where: list[str | int], message: str) -> str:
    field = ".".join(str(step) for step in where)
    what = message.removeprefix("Value error, ")
    return f"{field}: {what}" if field else what
