"""The words that the speech model knows, and how common each is, read from its `graph/Gr.fst`.

Law: read-only and by the published layout of an OpenFst file header and symbol table; what stands behind them is the
business of `ngram`.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from assistant.core.trouble import BadInput
from assistant.ears.model import OPENFST
from assistant.ears.ngram import History, Trie

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
    ids, trie = _open(model)
    labels, costs = trie.unigrams()
    words = {number: word for word, number in ids.items()}
    order = np.argsort(costs, kind="stable")
    spoken = ((words[int(labels[at])], float(costs[at])) for at in order if int(labels[at]) in words)
    return Lexicon(ids, {word: cost for word, cost in spoken if not word.startswith(("<", "[", "#"))})


def histories(model: Path) -> Iterator[History]:
    """What follows each word, for a model folder. Raises BadInput as `read` does."""
    return _open(model)[1].histories()


def _open(model: Path) -> tuple[dict[str, int], Trie]:
    file = model / "graph" / "Gr.fst"
    try:
        with file.open("rb") as stream:
            flags = _header(stream)
            ids = _symbols(stream) if flags & _HAS_INPUT_SYMBOLS else _listed(model)
            if flags & _HAS_OUTPUT_SYMBOLS:
                _symbols(stream)
            return ids, Trie(stream)
    except (struct.error, ValueError, UnicodeDecodeError, IndexError) as fault:
        raise BadInput(f"The speech model's word list can't be read: {file} is damaged ({fault}).") from fault


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
    if stream.read(4) != OPENFST:
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
