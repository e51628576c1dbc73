"""One utterance through vosk: sound in, the likeliest paths out.

Law: the only module that imports vosk.
"""

from __future__ import annotations

import functools
import json
import sys
from pathlib import Path as File
from typing import Any

import numpy as np

from assistant.core.trouble import BadInput, Missing
from assistant.ears.decoding import RATE_HZ, Path, Samples, Spoken
from assistant.ears.memory import give_back

PATHS = 20  # with fewer, other spellings of the best value crowd out the real rival


class VoskDecoder:
    """One utterance through one vosk recogniser: made anew for each, because a recogniser counts its word times from
    its own beginning, drops some frames after ten minutes, and grows."""

    def __init__(self, loaded: Any, paths: int = PATHS) -> None:
        self._vosk = _vosk().KaldiRecognizer(loaded, RATE_HZ)
        self._vosk.SetMaxAlternatives(paths)  # without it the text is a consensus that may lie outside the grammar
        self._vosk.SetWords(True)

    def accept(self, sound: Samples) -> bool:
        return bool(self._vosk.AcceptWaveform(sound.astype("<i2").tobytes()))

    def partial(self) -> str:
        return str(json.loads(self._vosk.PartialResult())["partial"])

    def final(self) -> tuple[Path, ...]:
        found = json.loads(self._vosk.FinalResult())["alternatives"]
        return tuple(_path(one) for one in found if one.get("result"))


def _path(found: dict[str, Any]) -> Path:
    words = (Spoken(word["word"], _sample(word["start"]), _sample(word["end"])) for word in found["result"])
    return Path(found["text"].strip(), tuple(words), found["confidence"])


def _sample(seconds: float) -> int:
    return round(seconds * RATE_HZ)


def _vosk() -> Any:
    try:
        import vosk
    except (ImportError, OSError) as fault:
        raise Missing(
            f"The speech recogniser vosk can't be loaded ({fault}). Install it with `pip install vosk`,"
            " or go without speech: `gladhand check --typed`."
        ) from fault
    return vosk


@functools.lru_cache(maxsize=2)
def load(folder: File) -> Any:
    """The model in a folder, loaded once in a process. Raises Missing without vosk, BadInput for a folder that does not
    load."""
    vosk = _vosk()
    vosk.SetLogLevel(-1)
    give_back()
    try:
        loaded = vosk.Model(str(folder))
        vosk.KaldiRecognizer(loaded, RATE_HZ)  # only this opens the graph
    except Exception as fault:  # vosk raises nothing finer
        raise BadInput(f"The speech model in {folder} does not load. Run `gladhand model` to see its state.") from fault
    return loaded


def try_folder(folder: File) -> None:
    """Load a folder and decode a second of silence; a broken one may take the process with it."""
    decoder = VoskDecoder(load(folder))
    decoder.accept(np.zeros(RATE_HZ, np.int16))
    decoder.final()


if __name__ == "__main__":
    try_folder(File(sys.argv[1]))
