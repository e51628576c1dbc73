"""How likely words follow each other in what the free decode expects, read from the private model folder that
`expected` and `strict` have built.

Law: read-only and by the published layout of an OpenFst vector acceptor: a state for each history, the way back to a
shorter one first among its arcs, the others sorted by word.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.ears.expected import ARC, HEADER, STATE


class Following:
    """Of a folder of `strict.prepare`. `numbers`: each word that is expected -> its number; `alone`: the number -> the
    nats that the word costs without a history. Raises OSError when the folder can't be read."""

    def __init__(self, folder: Path) -> None:
        with (folder / "graph" / "Gr.fst").open("rb") as file:
            self._graph = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        self._arcs = _places(self._graph)
        arcs = self._of(0)
        self.alone: dict[int, float] = dict(zip(arcs["in"].tolist(), arcs["cost"].tolist(), strict=True))
        with (folder / "graph" / "words.txt").open(encoding="utf-8") as lines:
            every = ((word, int(number)) for word, number in map(str.split, lines))
            self.numbers = {word: number for word, number in every if number in self.alone}

    def after(self, state: int, words: Sequence[int]) -> tuple[float, int]:
        """The nats that these words cost after this state, and the state behind them. Raises KeyError for a word that
        is not expected at all."""
        cost = 0.0
        for word in words:
            nats, state = self._step(state, word)
            cost += nats
        return cost, state

    def _step(self, state: int, word: int) -> tuple[float, int]:
        cost = 0.0
        while True:
            arcs = self._of(state)
            place = int(np.searchsorted(arcs["in"], word))
            if place < len(arcs) and arcs["in"][place] == word:
                return cost + float(arcs["cost"][place]), int(arcs["next"][place])
            if not len(arcs) or arcs["in"][0]:
                raise KeyError(word)
            cost, state = cost + float(arcs["cost"][0]), int(arcs["next"][0])

    def _of(self, state: int) -> NDArray[np.void]:
        at, count = self._arcs[state]
        return np.frombuffer(self._graph, ARC, count, at)


def _places(graph: mmap.mmap) -> list[tuple[int, int]]:
    """Where the arcs of each state begin, and how many they are."""
    places, at = [], HEADER
    while at < len(graph):
        _, count = struct.unpack_from(STATE, graph, at)
        at += struct.calcsize(STATE)
        places.append((at, count))
        at += count * ARC.itemsize
    return places
