"""A second opinion: how likely each of some sentences is, given their sound, by a recogniser of another kind.

Law: it weighs what the strict grammar has found and adds nothing of its own; without it, readings are only asked again
more often. The network hears an utterance as a whole, where the first recogniser looks at it piece by piece, so the two
are seldom wrong in the same way. It is the tiny English model of Moonshine (Jeffries et al. 2024, MIT licence), run by
onnxruntime, which only this module imports.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
from numpy.typing import NDArray

from assistant.ears import model

Samples = NDArray[np.int16]
Logs = NDArray[np.float32]

ENCODER, DECODER, PIECES = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
FILES = {
    ENCODER: (13_281_600, "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221"),
    DECODER: (30_412_256, "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0"),
    PIECES: (249_974, "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d"),
}
"""The files of the model, with their bytes and their SHA-256."""
SHORTEST = 4_800
"""Samples (300 ms at 16 kHz): of less the network makes nothing."""
LONGEST, TEXTS, WORDS = 80_000, 6, 6  # what it is asked first: samples, texts, words of a text
_BEGIN, _END = 1, 2  # pieces that stand for the two ends of a sentence


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

    def scores(self, sound: Samples, texts: Sequence[str]) -> list[float] | None:
        """Log likelihoods (nats, comparable within one call) of the texts, words in small letters, for this sound of
        16 kHz; None when it is shorter than SHORTEST, or the network does not run."""
        if len(sound) < SHORTEST or not texts:
            return None
        try:
            network = self._network.result()
            return self._worker.submit(network.scores, sound, texts).result()
        except Exception:  # onnxruntime raises nothing finer, and no check may end for want of a second opinion
            return None


def _warmed(folder: Path) -> _Network:
    """The network, asked once before it is needed, so that its memory does not grow in the middle of a check: what a
    larger question takes on top is little."""
    network = _Network(folder)
    network.scores(np.zeros(LONGEST, np.int16), [" ".join(["seventy"] * WORDS)] * TEXTS)
    return network


class _Network:
    def __init__(self, folder: Path) -> None:
        import onnxruntime  # slow to load

        how = onnxruntime.SessionOptions()
        how.intra_op_num_threads = how.inter_op_num_threads = 1
        how.enable_cpu_mem_arena = how.enable_mem_pattern = False  # kept for every length of sound, they only grow
        self._encoder = onnxruntime.InferenceSession(str(folder / ENCODER), how)
        self._decoder = onnxruntime.InferenceSession(str(folder / DECODER), how)
        self._wanted = [one.name for one in self._decoder.get_inputs()]
        self._past = [(one.name, one.shape) for one in self._decoder.get_inputs() if one.name.startswith("past")]
        self._pieces = _pieces((folder / PIECES).read_bytes())

    def scores(self, sound: Samples, texts: Sequence[str]) -> list[float]:
        wave = sound.astype(np.float32)[None] / 32768
        (heard,) = self._encoder.run(None, {"input_values": wave, "attention_mask": np.ones(wave.shape, np.int64)})
        return self._compared(heard, wave.shape[1], [pieces_of(_written(text), self._pieces) for text in texts])

    def _compared(self, heard: Logs, samples: int, sentences: Sequence[list[int]]) -> list[float]:
        """All sentences at once. A shorter one is filled up; what comes after its end changes nothing before it.
        `samples`: the decoder counts the sound itself, not what the encoder has made of it."""
        count, longest = len(sentences), max(len(pieces) for pieces in sentences)
        spelled = np.full((count, longest + 2), _END)
        for row, pieces in zip(spelled, sentences, strict=True):
            row[: len(pieces) + 1] = [_BEGIN, *pieces]
        inputs: dict[str, Any] = {
            "encoder_hidden_states": np.repeat(heard, count, axis=0),
            "encoder_attention_mask": np.ones((count, samples), np.int64),
            "input_ids": spelled[:, :-1],
            "use_cache_branch": np.array([False]),
        } | {name: np.zeros((count, shape[1], 0, shape[3]), np.float32) for name, shape in self._past}
        logits = self._decoder.run(["logits"], {name: inputs[name] for name in self._wanted})[0]
        told = (row[: len(pieces) + 1] for row, pieces in zip(logits, sentences, strict=True))
        return [_log_likelihood(row, wanted[1:]) for row, wanted in zip(told, spelled, strict=True)]


def _log_likelihood(row: Logs, wanted: NDArray[np.int64]) -> float:
    """Of one sentence; by itself, because the exponentials of all of them would take tens of megabytes."""
    highest = row.max(axis=1)
    likely = row[np.arange(len(row)), wanted[: len(row)]]
    return float((likely - highest - np.log(np.exp(row - highest[:, None]).sum(axis=1))).sum())


def _written(text: str) -> str:
    """A sentence as the network writes it. It knows no radio words."""
    plain = " ".join({"niner": "nine", "fife": "five"}.get(word, word) for word in text.split())
    return plain[:1].upper() + plain[1:] + "."


def _pieces(packed: bytes) -> dict[bytes, int]:
    """Piece -> its number. In the file each has its length before it: one byte, or two from 128 on."""
    found: dict[bytes, int] = {}
    at = number = 0
    while at < len(packed):
        length = packed[at]
        at += 1
        if length >= 128:
            length += 128 * (packed[at] - 1)
            at += 1
        found[packed[at : at + length]] = number  # a letter's own piece comes after the one for its byte
        at, number = at + length, number + 1
    return found


def pieces_of(text: str, pieces: dict[bytes, int]) -> list[int]:
    """The text cut into pieces by byte-pair merging (Sennrich et al. 2016), pairs with a lower number first."""
    parts = [mark.encode() for mark in "\u2581" + text.replace(" ", "\u2581")]
    while True:
        merges = [(pieces[a + b], at) for at, (a, b) in enumerate(pairwise(parts)) if a + b in pieces]
        if not merges:
            break
        _, at = min(merges)
        parts[at : at + 2] = [parts[at] + parts[at + 1]]
    return [pieces[part] for part in parts]
