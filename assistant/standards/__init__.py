"""Reads standards: those that are shipped here as TOML, and a user's own from a folder.

Law: what is handed out is complete and does not contradict itself; a file with a mistake is named with the line and the
field, and never keeps the others from being used.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import platformdirs

from assistant.core.standard import Standard
from assistant.core.trouble import BadInput, Trouble
from assistant.standards.checking import Mistake, examine

__all__ = ["DEFAULT", "Entry", "Mistake", "all_standards", "check_file", "fingerprint", "load", "shelf"]

DEFAULT = "common-practice"
_FOLDER_VARIABLE = "GLADHAND_STANDARDS"
_SHIPPED = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Entry:
    """One file. `standard` is None when it has mistakes. `sha256`: of the file's bytes."""

    path: Path
    sha256: str
    standard: Standard | None
    mistakes: tuple[Mistake, ...]
    shipped: bool


def shelf(folder: Path | None = None) -> tuple[Entry, ...]:
    """Every standard file: the default, the other shipped ones by id, then the user's own.

    `folder`: the user's; None: the one that the environment variable GLADHAND_STANDARDS names, else `standards` in the
    user's configuration folder, if it is there. Raises BadInput for a folder that was named and can't be read, Trouble
    for two files with one id.
    """
    entries = (*_shipped(), *_read(_own_folder(folder), shipped=False))
    seen: dict[str, Path] = {}
    for entry in entries:
        if entry.standard is None:
            continue
        if entry.standard.id in seen:
            raise Trouble(
                f'Two standards have the id "{entry.standard.id}": {seen[entry.standard.id].name} and {entry.path}. '
                "Give your own another id."
            )
        seen[entry.standard.id] = entry.path
    return entries


def all_standards(folder: Path | None = None) -> tuple[Standard, ...]:
    """Every standard without mistakes, as `shelf` orders them."""
    return tuple(entry.standard for entry in shelf(folder) if entry.standard is not None)


def load(name: str = DEFAULT, folder: Path | None = None) -> Standard:
    """The standard with this id. Raises Trouble that names the choices, and own files that can't be used."""
    return _find(name, folder)[0]


def fingerprint(name: str = DEFAULT, folder: Path | None = None) -> str:
    """SHA-256, in hex, of the file that holds the standard. Raises as `load`."""
    return _find(name, folder)[1]


def check_file(path: Path) -> tuple[Mistake, ...]:
    """Every mistake in a standard file, in the order of its lines; empty when it can be used. Raises BadInput when it
    can't be read."""
    return examine(_text(path)[0])[1]


def _find(name: str, folder: Path | None) -> tuple[Standard, str]:
    entries = shelf(folder)
    for entry in entries:
        if entry.standard is not None and entry.standard.id == name:
            return entry.standard, entry.sha256
    choices = ", ".join(entry.standard.id for entry in entries if entry.standard is not None)
    broken = [entry.path for entry in entries if entry.standard is None]
    hint = f" Not usable: {broken[0]}; `gladhand limits --check` says why." if broken else ""
    raise Trouble(f'There is no standard "{name}". Choose one of: {choices}.{hint}')


def _own_folder(named: Path | None) -> Path | None:
    variable = os.environ.get(_FOLDER_VARIABLE)
    folder = named or (Path(variable) if variable else None)
    if folder is not None and not folder.is_dir():
        raise BadInput(f"{folder} is not a folder. Name the folder that holds your own standards (.toml files).")
    usual = platformdirs.user_config_path("gladhand") / "standards"
    return folder or (usual if usual.is_dir() else None)


@cache
def _shipped() -> tuple[Entry, ...]:
    """Read once: they don't change while the program runs."""
    return tuple(sorted(_read(_SHIPPED, shipped=True), key=lambda entry: (entry.path.stem != DEFAULT, entry.path.stem)))


def _read(folder: Path | None, shipped: bool) -> Iterator[Entry]:
    for path in sorted(folder.glob("*.toml")) if folder else ():
        text, sha256 = _text(path)
        standard, mistakes = examine(text)
        yield Entry(path, sha256, standard, mistakes, shipped)


def _text(path: Path) -> tuple[str, str]:
    try:
        content = path.read_bytes()
        return content.decode("utf-8"), hashlib.sha256(content).hexdigest()
    except OSError as error:
        raise BadInput(f"Can't read {path}: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise BadInput(f"{path} is not a text file in UTF-8. A standard is a TOML file.") from error
