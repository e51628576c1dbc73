"""The n-gram grammar inside a speech model's `graph/Gr.fst`: how likely a word is, alone and after another one.

Law: read-only and by the published layouts: for the costs the `ngram` type of OpenFst (a LOUDS-coded trie; Sorensen and
Allauzen, "Unary data structures for language models", 2011, and the class NGramFst that came of it). Its root holds the
unigrams; the children of the root are the histories of one word.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class History:
    """What may follow `word` (a number of the model): `words` with their `costs`, anything else at its own cost and
    `backoff` more. All in nats."""

    word: int
    words: NDArray[np.int32]
    costs: NDArray[np.float32]
    backoff: float


class Trie:
    """Read from where the symbol tables of the file end. Raises ValueError or struct.error when it is cut off.

    After three counts (states, futures, finals) come bitmaps in words of 64 bits: contexts (2 x states + 1 bits),
    futures (futures + states + 1) and finals (states); then int32 context words (states + 1) and future words, then
    float32 back-off costs (states + 1), final costs and future costs. In the bitmap of the contexts a 1 stands for each
    child and a 0 closes each state, after the bits 1 and 0 of a state above the root; in that of the futures a 0 opens
    each state and a 1 stands for each of its words.
    """

    def __init__(self, stream: BinaryIO) -> None:
        states, futures, finals = struct.unpack("<QQQ", stream.read(24))
        self._contexts = _bits(stream, 2 * states + 1)
        self._opens = np.flatnonzero(_bits(stream, futures + states + 1) == 0)
        stream.seek(8 * _words64(states), 1)
        self._context_words = _array(stream, "<i4", states + 1)
        self._labels = _array(stream, "<i4", futures)
        self._backoffs = _array(stream, "<f4", states + 1)
        stream.seek(4 * finals, 1)
        self._costs = _array(stream, "<f4", futures)

    def unigrams(self) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
        """(words, costs) of the root."""
        return self._futures(0)

    def histories(self) -> Iterator[History]:
        """What follows each single word, where the model has seen it followed."""
        children = int(np.flatnonzero(self._contexts[2:] == 0)[0])
        for state in range(1, children + 1):
            words, costs = self._futures(state)
            yield History(int(self._context_words[state]), words, costs, float(self._backoffs[state]))

    def _futures(self, state: int) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
        first, end = (int(self._opens[at]) - at for at in (state, state + 1))
        return self._labels[first:end], self._costs[first:end]


def _words64(bits: int) -> int:
    return (bits + 63) // 64


def _bits(stream: BinaryIO, count: int) -> NDArray[np.uint8]:
    packed = _array(stream, "<u8", _words64(count))
    return np.unpackbits(packed.view(np.uint8), bitorder="little")[:count]


def _array(stream: BinaryIO, kind: str, count: int) -> np.ndarray:
    found = np.frombuffer(stream.read(int(count) * np.dtype(kind).itemsize), kind)
    if len(found) != count:
        raise ValueError("it ends too soon")
    return found
