"""What a sentence says in words that are on no list: learnt from the paraphrases of many writers.

Law: it says how sure it is, and `inferring` and `stating` decide what is believed. Of the figures the network is told
no more than which one is larger and whether it is a time, so that none is ever learnt; what denies has kinds of its
own, because it shares most words with what it denies. The network is the encoder of a published one that knows English
(MiniLM, Wang et al. 2020, as the sentence-transformers project trained it further, Apache licence), taught by
`python -m tests.bench.recital_learn` from the paraphrases in tests/bench; numpy runs it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.review.recital.amounts import amounts
from assistant.review.recital.figures import Amount

FILE = Path(__file__).parent / "learnt.npz"
BEGIN, END, UNKNOWN = "[CLS]", "[SEP]", "[UNK]"
LONGEST = 64
"""Pieces of words; what follows is not read."""
ABOUT = ("within", "at-least", "at-most", "loss", "time", "held", "felt", "straight")
"""Kinds of limit that a sentence may be said about: "it must be less than 100" states one of these, and is the opposite
of another."""
HEADS = 12
LAYER = ("mixing", "mixed", "wide", "narrow")
"""The four linear maps of each layer: to queries, keys and values; from what was gathered; and two between."""
_SCALE = ".scale"
_LINES = ("kinds", "pieces", "words", "made_of")  # of the file, no numbers
_MINUTE = 60
_MOST = 4  # figures of one sentence that are told apart
_NO_WORDS = (",", ".")
_ANSWER = ("no", ",")
_WORD = re.compile(r"'|[^']+")
Real = NDArray[np.float32]


def own_signs() -> list[str]:
    """What may stand in the place of a figure: "<value 1>" for the smallest pressure of several, "<time>" for the only
    time; and what may stand before a sentence: "<about loss>"."""
    figures = [f"<{what}{which}>" for what in ("value", "time") for which in ("", *(f" {n + 1}" for n in range(_MOST)))]
    return [*figures, *map(about_sign, ABOUT)]


def about_sign(kind: str) -> str:
    """What stands before a sentence that is said about a limit of this kind."""
    return f"<about {kind}>"


def encoded(words: Sequence[str], about: str = "") -> tuple[str, ...]:
    """The words without commas, in the place of each figure but "one minute" a sign of `own_signs`, and before them the
    one of what they are said about. A "no" with a pause after it answers something else: it is left out."""
    words = words[len(_ANSWER) :] if tuple(words[: len(_ANSWER)]) == _ANSWER else words
    said = [one for one in amounts(words) if one.high is not None or (one.measure, one.value) != ("s", _MINUTE)]
    signs = {time: _ordered([one for one in said if (one.measure == "s") == time], time) for time in (False, True)}
    found, at = [about_sign(about)] if about else [], 0
    for amount in said:
        found += [word for word in words[at : amount.first] if word not in _NO_WORDS]
        sign = signs[amount.measure == "s"]
        found += [sign[amount.value], *(["to", sign[amount.high]] if amount.high is not None else [])]
        at = amount.end
    return (*found, *(word for word in words[at:] if word not in _NO_WORDS))


def _ordered(said: Sequence[Amount], time: bool) -> dict[float, str]:
    what = "time" if time else "value"
    values = sorted({value for one in said for value in (one.value, one.high) if value is not None})
    if len(values) == 1:
        return {values[0]: f"<{what}>"}
    return {value: f"<{what} {min(place, _MOST)}>" for place, value in enumerate(values, 1)}


class Pieces:
    """Cuts words into the pieces of a list; those that don't begin a word begin with "##" there."""

    def __init__(self, pieces: Sequence[str]) -> None:
        self._places = {piece: place for place, piece in enumerate(pieces)}

    def of(self, words: Sequence[str]) -> list[int]:
        """The places of the pieces of a sentence, LONGEST of them at most."""
        inner = [place for word in words for place in self._of_word(word)]
        return [self._places[BEGIN], *inner[: LONGEST - 2], self._places[END]]

    def _of_word(self, word: str) -> Iterator[int]:
        if word in self._places:
            yield self._places[word]
            return
        for part in _WORD.findall(word):
            yield from self._longest(part)

    def _longest(self, part: str) -> Iterator[int]:
        """The longest piece, and again of what is left."""
        at = 0
        while at < len(part):
            mark = "##" if at else ""
            ends = (end for end in range(len(part), at, -1) if mark + part[at:end] in self._places)
            end = next(ends, None)
            if end is None:
                yield self._places[UNKNOWN]
                return
            yield self._places[mark + part[at:end]]
            at = end


class Learnt:
    """`arrays`, as they stand in the file: `kinds` that can be said ("facts.chocked", "denied.chocked", "limits.loss",
    "talk.all"), the `pieces` and the `words` that were learnt from, a line each; `embedding` of each piece, `places` of
    each place in the sentence, and the weights of the layers. What ends in ".scale" makes real numbers of whole ones.
    """

    def __init__(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        self._kinds = str(arrays["kinds"]).split("\n")
        self._pieces = Pieces(str(arrays["pieces"]).split("\n"))
        self._words = frozenset(str(arrays["words"]).split("\n"))
        self._real = {name: _real(arrays, name) for name in arrays if name not in _LINES and not name.endswith(_SCALE)}
        self._layers = sum(name.endswith(f".{LAYER[0]}") for name in arrays)

    def knows(self, word: str) -> bool:
        """Whether any sentence that was learnt from had this word."""
        return word in self._words

    def likely(self, words: Sequence[str], about: str = "") -> Mapping[str, float]:
        """How likely each kind is for this sentence; together 1. `about`: the kind of limit that the test has which is
        being talked about, where that is known."""
        score = self._scores(self._pieces.of(encoded(words, about)))
        likely = np.exp(score - score.max())
        return dict(zip(self._kinds, map(float, likely / likely.sum()), strict=True))

    def _scores(self, pieces: Sequence[int]) -> Real:
        real = self._real
        flow = self._normal(real["embedding"][pieces] + real["places"][: len(pieces)], "begin")
        for layer in range(self._layers):
            flow = self._layer(flow, f"{layer}.")
        return self._linear(np.concatenate([flow[0], flow.mean(axis=0)]), "kind")

    def _layer(self, flow: Real, layer: str) -> Real:
        mixing, mixed, wide, narrow = (layer + name for name in LAYER)
        parts = self._linear(flow, mixing).reshape(len(flow), 3, HEADS, -1)
        query, key, value = parts.transpose(1, 2, 0, 3)
        near = query @ key.transpose(0, 2, 1) / np.float32(np.sqrt(query.shape[-1]))
        share = np.exp(near - near.max(axis=-1, keepdims=True))
        gathered = (share / share.sum(axis=-1, keepdims=True)) @ value
        flow = self._normal(flow + self._linear(gathered.transpose(1, 0, 2).reshape(flow.shape), mixed), mixed)
        return self._normal(flow + self._linear(_gelu(self._linear(flow, wide)), narrow), narrow)

    def _linear(self, flow: Real, name: str) -> Real:
        return np.asarray(flow @ self._real[name] + self._real[f"{name}.bias"], np.float32)

    def _normal(self, flow: Real, name: str) -> Real:
        """Layer normalisation (Ba et al. 2016)."""
        off = flow - flow.mean(axis=-1, keepdims=True)
        spread = np.sqrt((off * off).mean(axis=-1, keepdims=True) + np.float32(1e-12))
        return np.asarray(off / spread * self._real[f"{name}.gain"] + self._real[f"{name}.shift"], np.float32)


def _real(arrays: Mapping[str, NDArray[Any]], name: str) -> Real:
    scale = f"{name}{_SCALE}"
    found = arrays[name].astype(np.float32)
    return found * arrays[scale].astype(np.float32) if scale in arrays else found


def _gelu(flow: Real) -> Real:
    """Gaussian error linear unit, by the tangent (Hendrycks and Gimpel 2016)."""
    inner = np.float32(np.sqrt(2 / np.pi)) * (flow + np.float32(0.044715) * flow * flow * flow)
    return flow * (np.float32(0.5) + np.float32(0.5) * np.tanh(inner))


@lru_cache(maxsize=8192)  # a recital is marked anew with each of its sentences
def likely(words: tuple[str, ...], about: str = "") -> Mapping[str, float]:
    """What is shipped: how likely each kind is for this sentence. `about`: see `Learnt.likely`."""
    return learnt().likely(words, about)


@cache
def learnt() -> Learnt:
    """What is shipped, loaded once in a process."""
    with np.load(FILE) as kept:
        return Learnt(kept)
