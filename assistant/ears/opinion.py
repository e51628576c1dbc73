"""A second opinion: the letters of an utterance, by a recogniser of another kind.

Law: it hears an utterance as a whole, where the first recogniser looks at it piece by piece, so the two are seldom
wrong in the same way; it knows neither the limit nor what is expected. The network is ours: the encoder of the tiny
English model of Moonshine (Jeffries et al. 2024, MIT licence) and a few convolutions behind it that write letters, both
taught by `tests/bench/practise.py`. It is run by onnxruntime, which only this module imports. Where it does not run,
readings are asked again more often.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from assistant.ears.decoding import Samples
from assistant.ears.spelling import Real

FILE = Path(__file__).with_name("spelling.onnx")
SHORTEST = 4_800
"""Samples (300 ms at 16 kHz): of less the network makes nothing."""
LONGEST = 480_000
"""Samples (30 s): longer than any utterance; of sentences in one piece as many letters are right in 27 s as in 11 s."""
_USUAL = 80_000  # samples of a long reading
STEP = 384
"""Samples from one step of the letters to the next."""


@cache
def ready() -> Opinion:
    """The opinion of this version, one in a process."""
    return Opinion(FILE)


class Opinion:
    """The network in `file`. It is loaded beside other work; the first question waits for it. One thread does all its
    work, so that what it needs it has from the start: another thread would take memory of its own."""

    def __init__(self, file: Path) -> None:
        self._worker = ThreadPoolExecutor(1, "second opinion")
        self._network = self._worker.submit(_warmed, file)

    def letters(self, sound: Samples) -> Real | None:
        """The log probabilities of the letters (steps, outputs; see `spelling`) for this sound of 16 kHz; None when it
        is shorter than SHORTEST or longer than LONGEST, or the network does not run."""
        if not SHORTEST <= len(sound) <= LONGEST:
            return None
        try:
            network = self._network.result()
            return self._worker.submit(_letters, network, sound).result()
        except Exception:  # onnxruntime raises nothing finer, and no check may end for want of a second opinion
            return None


def _warmed(file: Path) -> Any:
    """The network, asked once before it is needed, so that the first answer comes as soon as later ones and its memory
    does not grow in the middle of a check."""
    import onnxruntime  # slow to load

    how = onnxruntime.SessionOptions()
    how.intra_op_num_threads = how.inter_op_num_threads = 1
    how.enable_cpu_mem_arena = how.enable_mem_pattern = False  # kept for every length of sound, they only grow
    network = onnxruntime.InferenceSession(file.read_bytes(), how)
    _letters(network, np.zeros(_USUAL, np.int16))
    return network


def _letters(network: Any, sound: Samples) -> Real:
    (told,) = network.run(None, {"sound": sound.astype(np.float32)[None] / 32768})
    return np.asarray(told[0], np.float32)
