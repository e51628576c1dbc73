"""The words that the speech model knows, and how common each is, read from its `graph/Gr.fst`.

Law: read-only and by the published layouts: the OpenFst file header and symbol table, and for the costs the `ngram`
type of OpenFst (a LOUDS-coded trie; Sorensen and Allauzen, "Unary data structures for language models", 2011, and the
class NGramFst that came of it). The root state of that trie holds the unigrams.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from assistant.core.trouble import BadInput

_FST_MAGIC = 2125659606
_TABLE_MAGIC = 2125658996
_HAS_INPUT_SYMBOLS = 1
_HAS_OUTPUT_SYMBOLS = 2


@dataclass(frozen=True)
class Lexicon:
    """`ids`: word -> number in the model, marks such as <s> included. `costs`: word -> -ln of its unigram probability,
    real words only, the commonest first."""

    ids: dict[str, int]
    costs: dict[str, float]

    def commonest(self, count: int) -> list[tuple[str, float]]:
        """The `count` commonest words with their costs (nats), most common first."""
        return list(self.costs.items())[:count]


def read(model: Path) -> Lexicon:
    """The lexicon of a model folder. Raises BadInput when `graph/Gr.fst` is cut off or of another type."""
    file = model / "graph" / "Gr.fst"
    try:
        with file.open("rb") as stream:
            flags = _header(stream)
            ids = _symbols(stream) if flags & _HAS_INPUT_SYMBOLS else _listed(model)
            if flags & _HAS_OUTPUT_SYMBOLS:
                _symbols(stream)
            labels, costs = _unigrams(stream)
    except (struct.error, ValueError, UnicodeDecodeError, IndexError) as fault:
        raise BadInput(f"The speech model's word list can't be read: {file} is damaged ({fault}).") from fault
    words = {number: word for word, number in ids.items()}
    order = np.argsort(costs, kind="stable")
    spoken = ((words[int(labels[at])], float(costs[at])) for at in order if int(labels[at]) in words)
    return Lexicon(ids, {word: cost for word, cost in spoken if not word.startswith(("<", "[", "#"))})


def _text(stream: BinaryIO) -> str:
    (length,) = struct.unpack("<i", stream.read(4))
    if not 0 <= length < 10_000:
        raise ValueError("a name is longer than can be")
    found = stream.read(length)
    if len(found) != length:
        raise ValueError("it ends too soon")
    return found.decode()


def _header(stream: BinaryIO) -> int:
    """Read the file header up to the symbol tables; the flags say which tables follow."""
    (magic,) = struct.unpack("<i", stream.read(4))
    if magic != _FST_MAGIC:
        raise ValueError("it is no OpenFst file")
    kind, arc = _text(stream), _text(stream)
    if (kind, arc) != ("ngram", "standard"):
        raise ValueError(f"an n-gram grammar is needed, this one is of the type {kind} with {arc} arcs")
    _version, flags, _properties, _start, _states, _arcs = struct.unpack("<iiQqqq", stream.read(40))
    return int(flags)


def _symbols(stream: BinaryIO) -> dict[str, int]:
    (magic,) = struct.unpack("<i", stream.read(4))
    if magic != _TABLE_MAGIC:
        raise ValueError("its symbol table is not where it should be")
    _text(stream)
    _next, size = struct.unpack("<qq", stream.read(16))
    table = {}
    for _ in range(size):
        word = _text(stream)
        (table[word],) = struct.unpack("<q", stream.read(8))
    return table


def _listed(model: Path) -> dict[str, int]:
    """The list beside the graph, where the graph itself carries none."""
    try:
        lines = (model / "graph" / "words.txt").read_text(encoding="utf-8").splitlines()
    except OSError:
        raise ValueError("it has no symbol table, and graph/words.txt is missing") from None
    return {word: int(number) for word, number in (line.split() for line in lines if line.strip())}


def _unigrams(stream: BinaryIO) -> tuple[np.ndarray, np.ndarray]:
    """(labels, costs) of the root state.

    After three counts (states, futures, finals) come bitmaps in words of 64 bits: contexts (2 x states + 1 bits),
    futures (futures + states + 1) and finals (states); then int32 context words (states + 1) and future words, then
    float32 back-off costs (states + 1), final costs and future costs. In the bitmap of the futures a 0 opens each state
    and a 1 stands for each of its words, so the root's words are the ones between the first two zeros.
    """
    states, futures, finals = struct.unpack("<QQQ", stream.read(24))
    stream.seek(8 * _words64(2 * states + 1), 1)
    bitmap = _array(stream, "<u8", _words64(futures + states + 1))
    stream.seek(8 * _words64(states) + 4 * (states + 1), 1)
    labels = _array(stream, "<i4", futures)
    stream.seek(4 * (states + 1) + 4 * finals, 1)
    costs = _array(stream, "<f4", futures)
    bits = np.unpackbits(bitmap.view(np.uint8), bitorder="little")
    first, second = np.flatnonzero(bits == 0)[:2]
    return labels[: second - first - 1], costs[: second - first - 1]


def _words64(bits: int) -> int:
    return (bits + 63) // 64


def _array(stream: BinaryIO, kind: str, count: int) -> np.ndarray:
    found = np.frombuffer(stream.read(int(count) * np.dtype(kind).itemsize), kind)
    if len(found) != count:
        raise ValueError("it ends too soon")
    return found
