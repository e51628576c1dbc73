"""Sentences that a seed makes of the grammar in recital_corpus/fresh.toml.

Law: the truth of a sentence is that of the list it was made from. A new seed is a fresh set.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

_EACH = 40  # sentences for each list
_PART = re.compile(r"<([\w-]+)>")


def fresh(folder: Path, rng: np.random.Generator) -> dict[str, dict[str, list[str]]]:
    """The corpus that these draws make, in the shape of the written ones."""
    grammar = tomllib.loads((folder / "fresh.toml").read_text(encoding="utf-8"))
    parts = grammar.pop("parts")
    return {
        room: {key: _made(ways, parts, rng) if room != "manner" else ways for key, ways in lists.items()}
        for room, lists in grammar.items()
    }


def _made(ways: Sequence[str], parts: Mapping[str, Sequence[str]], rng: np.random.Generator) -> list[str]:
    return [_grown(str(rng.choice(ways)), parts, rng) for _ in range(_EACH)]


def _grown(way: str, parts: Mapping[str, Sequence[str]], rng: np.random.Generator) -> str:
    while _PART.search(way):
        way = _PART.sub(lambda found: str(rng.choice(parts[found[1]])), way, count=1)
    return " ".join(way.split())
