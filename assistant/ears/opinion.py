"""A second opinion: the letters of an utterance, by a recogniser of another kind.

Law: it hears an utterance as a whole, where the first recogniser looks at it piece by piece, so the two are seldom
wrong in the same way; it knows neither the limit nor what is expected. What hears is the encoder of the tiny English
model of Moonshine (Jeffries et al. 2024, MIT licence), run by onnxruntime, which only this module imports; what it has
heard is spelled by `spelling`. Without it readings are asked again more often.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np
import platformdirs
from numpy.typing import NDArray

from assistant.ears import model
from assistant.ears.spelling import Real, practised

Samples = NDArray[np.int16]

ENCODER = "encoder_model.ort"
FILES = {ENCODER: (13_281_600, "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221")}
"""The files of the model that are needed, with their bytes and their SHA-256."""
SHORTEST = 4_800
"""Samples (300 ms at 16 kHz): of less the network makes nothing."""
LONGEST = 160_000
"""Samples (10 s): nothing that is for the check takes longer to say."""
STEP = 384
"""Samples from step to step of what it hears."""


def home() -> Path:
    """The folder that the model is kept in (it may not exist)."""
    return Path(platformdirs.user_data_dir("gladhand", appauthor=False)) / "second"


def damage(folder: Path, *, thorough: bool = False) -> str | None:
    """What is wrong with a folder of the model, in one sentence; None if nothing is. `thorough`: every byte is looked
    at, not only the sizes."""
    for name, (size, sha256) in FILES.items():
        file = folder / name
        if not file.is_file():
            return f"the file {name} is missing."
        if file.stat().st_size != size or (thorough and model.sha256(file) != sha256):
            return f"the content of {name} has changed."
    return None


@cache
def ready() -> Opinion | None:
    """The opinion of the fetched model, one in a process; None where there is none, or it was damaged since."""
    folder = home()
    return Opinion(folder) if damage(folder) is None else None


class Opinion:
    """The network in `folder`. It is loaded beside other work; the first question waits for it. One thread does all
    its work, so that what it needs it has from the start: another thread would take memory of its own."""

    def __init__(self, folder: Path) -> None:
        self._worker = ThreadPoolExecutor(1, "second opinion")
        self._network = self._worker.submit(_warmed, folder)

    def letters(self, sound: Samples) -> Real | None:
        """The log probabilities of the letters (steps, outputs; see `spelling`) for this sound of 16 kHz; None when it
        is shorter than SHORTEST or longer than LONGEST, or the network does not run."""
        if not SHORTEST <= len(sound) <= LONGEST:
            return None
        try:
            encoder = self._network.result()
            return practised().letters(self._worker.submit(encoder.heard, sound).result())
        except Exception:  # onnxruntime raises nothing finer, and no check may end for want of a second opinion
            return None


def _warmed(folder: Path) -> Encoder:
    """The network, asked once before it is needed, so that the first answer comes as soon as later ones and its memory
    does not grow in the middle of a check."""
    encoder = Encoder(folder)
    practised().letters(encoder.heard(np.zeros(LONGEST // 2, np.int16)))
    return encoder


class Encoder:
    """The network itself."""

    def __init__(self, folder: Path) -> None:
        import onnxruntime  # slow to load

        how = onnxruntime.SessionOptions()
        how.intra_op_num_threads = how.inter_op_num_threads = 1
        how.enable_cpu_mem_arena = how.enable_mem_pattern = False  # kept for every length of sound, they only grow
        self._session = onnxruntime.InferenceSession(str(folder / ENCODER), how)

    def heard(self, sound: Samples) -> Real:
        """(steps, 288): what it makes of the sound."""
        wave = sound.astype(np.float32)[None] / 32768
        (heard,) = self._session.run(None, {"input_values": wave, "attention_mask": np.ones(wave.shape, np.int64)})
        return np.asarray(heard[0], np.float32)
