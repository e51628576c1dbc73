"""The private copy of the model folder whose graph is our own grammar: the recogniser then hears nothing else.

Law: the original is never touched; its big files are linked, not copied, where the system allows. A private folder is
built beside its place and moved there in one step, so that two processes at once are safe, and its name is the
fingerprint of all that went into it, so that it never has to be brought up to date. A native library gets to see it
first in a child process: if that dies, the user reads a sentence. A folder that was spoilt since is built again.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

import platformdirs

from assistant.core.trouble import BadInput, Missing
from assistant.ears import lexicon, model

BACKGROUND_WORDS = 3000
SETTINGS: Mapping[str, str] = {
    # Rivals are evidence: with the narrow lattice that a model ships with they are thrown away (measured: at 6 the true
    # reading is always among the eight best, at 2 in 96 of 100 at most; wider brings nothing).
    "beam": "13.0",
    "lattice-beam": "6.0",
    # With the usual 3000 the same best path in 97 of 98 readings in noise, and a third more time.
    "max-active": "1000",
    # Our own rule of the end of speech comes first (see utterance); these are what it falls back on where noise hides
    # the silence: seconds of it after what may be the end of a phrase (2, 3), and in the middle of one (4).
    "endpoint.rule2.min-trailing-silence": "1.0",
    "endpoint.rule3.min-trailing-silence": "1.0",
    "endpoint.rule4.min-trailing-silence": "2.0",
    "endpoint.rule5.min-utterance-length": "20.0",
}
_LAYOUT = "1"  # raise it when what this module writes changes
_COMPILER = Path(__file__).with_name("grammar_compile.py")  # another compiler makes another graph
_FORGET_AFTER_S = 30 * 24 * 3600
_OURS = ("graph/Gr.fst", "graph/words.txt", "conf/model.conf")  # everything else is the model's own
_TRIED = "tried"  # this file says that the folder has been loaded once, and what checksums our files had then


class Language(Protocol):
    """What may be said. `fingerprint` changes whenever the language does."""

    @property
    def fingerprint(self) -> str: ...


L = TypeVar("L", bound=Language, contravariant=True)


class Compile(Protocol[L]):
    """Writes the language with its background loop (word, cost in nats) as an OpenFst acceptor to `out`.

    `words`: word -> number in the model. Raises Trouble for a word that the model does not know.
    """

    def __call__(
        self, language: L, words: Mapping[str, int], background: Sequence[tuple[str, float]], out: Path
    ) -> None: ...


def prepare(source: Path, language: L, compile_acceptor: Compile[L], place: Path | None = None) -> Path:
    """The folder to give to the recogniser for this model and language, built now if it is not there.

    `source`: a folder that `model.find` returned. `place`: where such folders are kept, the user's cache by default.
    Raises BadInput for a damaged model, Missing when the cache can't be written, and what `compile_acceptor` raises.
    """
    place = place or Path(platformdirs.user_cache_dir("gladhand", appauthor=False)) / "strict"
    target = place / _key(source, language)
    try:
        if not _is_whole(target, source):
            _build(source, language, compile_acceptor, place, target)
        (target / _TRIED).touch()  # marks the last use
    except OSError as fault:
        raise Missing(
            f"The folder {place} can't be written ({fault.strerror or fault})."
            " It is needed to keep the compiled grammar: make it writable, or free space on its disk."
        ) from fault
    return target


def _key(source: Path, language: Language) -> str:
    settings = json.dumps(dict(SETTINGS))
    compiler = model.sha256(_COMPILER)
    parts = [_LAYOUT, model.fingerprint(source), language.fingerprint, compiler, str(BACKGROUND_WORDS), settings]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:24]


def _build(source: Path, language: L, compile_acceptor: Compile[L], place: Path, target: Path) -> None:
    place.mkdir(parents=True, exist_ok=True)
    _forget(place)
    fault = model.damage(source, thorough=True)
    if fault:
        raise BadInput(f"The speech model in {source} can't be used: {fault} Run `gladhand model` to see more.")
    with tempfile.TemporaryDirectory(prefix="building-", dir=place, ignore_cleanup_errors=True) as room:
        folder = Path(room) / "folder"
        _link_all(source, folder)
        known = lexicon.read(source)
        compile_acceptor(language, known.ids, known.commonest(BACKGROUND_WORDS), folder / "graph" / "Gr.fst")
        words = "".join(f"{word} {number}\n" for word, number in known.ids.items())
        (folder / "graph" / "words.txt").write_text(words, encoding="utf-8")
        _write_settings(source, folder)
        _try(folder, source)
        (folder / _TRIED).write_text(json.dumps(_checksums(folder)), encoding="utf-8")
        if target.exists() and not _is_whole(target, source):
            os.rename(target, Path(room) / "spoilt")
        try:
            os.rename(folder, target)
        except OSError:
            if not _is_whole(target, source):  # otherwise another process was quicker, with the same content
                raise


def _is_whole(target: Path, source: Path) -> bool:
    """Whether the folder was once loaded and is as it was then: a native library would not survive another one."""
    try:
        then = json.loads((target / _TRIED).read_text(encoding="utf-8"))
        return bool(then == _checksums(target)) and all((target / name).exists() for name in model.files_of(source))
    except (OSError, ValueError):
        return False


def _checksums(folder: Path) -> dict[str, str]:
    return {name: model.sha256(folder / name) for name in _OURS}


def _link_all(source: Path, folder: Path) -> None:
    """Everything of the model except what is ours: the graph's grammar, its word list and the settings."""
    for name in model.files_of(source):
        if name not in _OURS:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            _link((source / name).resolve(), folder / name)
    (folder / "conf").mkdir(parents=True, exist_ok=True)


def _link(original: Path, link: Path) -> None:
    for way in (os.symlink, os.link, shutil.copyfile):  # plain users of Windows may not make symbolic links
        try:
            way(original, link)
        except OSError:
            if way is shutil.copyfile:
                raise
        else:
            return


def _write_settings(source: Path, folder: Path) -> None:
    """The model's own decoder settings with ours put over them."""
    kept = []
    for line in (source / "conf" / "model.conf").read_text(encoding="utf-8").splitlines():
        if line.strip().removeprefix("--").partition("=")[0] not in SETTINGS:
            kept.append(line)
    ours = [f"--{name}={value}" for name, value in SETTINGS.items()]
    (folder / "conf" / "model.conf").write_text("\n".join([*kept, *ours, ""]), encoding="utf-8")


def _try(folder: Path, source: Path) -> None:
    """Load the folder and decode a moment of silence in a child process, which may die of it."""
    command = [sys.executable, "-m", "assistant.ears.decoder", str(folder)]
    found_here = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}  # a checkout may not be installed
    try:
        done = subprocess.run(
            command, env=found_here, capture_output=True, stdin=subprocess.DEVNULL, timeout=120, check=False
        )
    except subprocess.TimeoutExpired:
        raise BadInput(f"The speech model in {source} does not load within two minutes.") from None
    if done.returncode:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        reason = said[-1] if said else f"it ended with code {done.returncode}"
        raise BadInput(
            f"The speech model in {source} can't be loaded ({reason[:200]}); a file in it is damaged or is of"
            " another kind. Run `gladhand model fetch --again`, or choose another one with `--model PATH`."
        )


def _forget(place: Path) -> None:
    """Remove what has not been used for a month, and what a killed process left half-built."""
    for folder in place.iterdir():
        mark = folder / _TRIED
        used = (mark if mark.exists() else folder).stat().st_mtime
        if time.time() - used > _FORGET_AFTER_S:
            shutil.rmtree(folder, ignore_errors=True)
