"""Finds the files that come with the program: grammars, prompts and the demo recording; and their fingerprints.

Law: a wheel carries them inside the package, a checkout beside it, and nowhere else is looked. Whoever asks gets what
is there and whole, or Trouble that says how to get it.
"""

from __future__ import annotations

import hashlib
import os
import tomllib
from pathlib import Path

from assistant.core.prompts import Prompts, Wording, wordings
from assistant.core.trouble import BadInput, Missing, Trouble

_PACKAGE = Path(__file__).resolve().parent
_IN_WHEEL = _PACKAGE / "_data"  # filled by force-include in pyproject.toml
_HOME = _IN_WHEEL if _IN_WHEEL.is_dir() else _PACKAGE.parent


def grammars() -> Path:
    """The folder of the grammar files. Raises Missing."""
    return _folder("grammars")


def demo() -> Path:
    """The folder of the demo recording. Raises Missing."""
    return _folder("audio_fixtures/demo")


def prompt_folder(language: str = "en") -> Path:
    """The folder with the wording of a language. Raises Missing, which names the languages that are there."""
    languages = {folder.name: folder for folder in _folder("prompts").iterdir() if folder.is_dir()}
    if language not in languages:
        raise Missing(f'There are no prompts in "{language}". There are some in: {", ".join(sorted(languages))}.')
    return languages[language]


def prompts(language: str = "en", *, brief: bool = False) -> Prompts:
    """The wording of a language, from all its files. `brief`: as in Prompts.

    Raises Missing when there is none, Trouble for a file that is no prompt file or a prompt that stands in two.
    """
    texts: dict[str, Wording] = {}
    folder = prompt_folder(language)
    for file in sorted(folder.glob("*.toml")):
        found = _wordings_in(file)
        for prompt in sorted(texts.keys() & found.keys()):
            raise Trouble(f'Prompt "{prompt}" stands in {file} and in another file. Take it out of one of them.')
        texts |= found
    if not texts:
        raise Missing(f"{folder} holds no prompts. Install the program again.")
    return Prompts(texts, brief=brief)


def fingerprint(path: Path) -> str:
    """The SHA-256 of a file, in hex; of a folder, that of the list of its files as `sha256sum` prints it:

        find * -type f | grep -v '/[.]' | LC_ALL=C sort | xargs sha256sum | sha256sum

    Names that begin with "." don't count: editors and desktops leave such files behind. Raises BadInput.
    """
    try:
        if path.is_file():
            return _sha256(path)
        names = sorted(_names(path), key=os.fsencode)
        lines = [f"{_sha256(path / name)}  ".encode() + os.fsencode(name) + b"\n" for name in names]
    except OSError as error:
        raise BadInput(f"Can't read {error.filename or path} to take its fingerprint: {error.strerror}.") from error
    return hashlib.sha256(b"".join(lines)).hexdigest()


def _folder(name: str) -> Path:
    folder = _HOME / name
    if not folder.is_dir():
        raise Missing(f"{folder}, a part of the program, is not there. Install it again, or use a whole checkout.")
    return folder


def _wordings_in(file: Path) -> dict[str, Wording]:
    try:
        return wordings(tomllib.loads(file.read_text(encoding="utf-8")))
    except (OSError, ValueError) as error:
        raise Trouble(f"{file} is no file of prompts: {error}. Put it right, or install the program again.") from error
    except Trouble as trouble:
        raise Trouble(f"{file}: {trouble}") from trouble


def _names(folder: Path) -> list[str]:
    """The files below a folder, as paths with "/" from there."""
    found: list[str] = []
    for item in folder.iterdir():
        if item.name.startswith("."):
            continue
        if item.is_dir():
            found += [f"{item.name}/{name}" for name in _names(item)]
        elif item.is_file():
            found.append(item.name)
    return found


def _sha256(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
