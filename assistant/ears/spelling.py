"""What the letters of the second opinion say: how likely a text is, and when its words were spoken.

Law: for each step of the sound there is one letter or none, and a text is as likely as all the ways to write it
together (connectionist temporal classification, Graves et al. 2006).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float32]

LETTERS = " abcdefghijklmnopqrstuvwxyz'"
"""Output 0 is no letter, output n is LETTERS[n - 1]."""
_NEVER = np.float32(-1e30)
_PART = re.compile(r"p s i\b|\S+")  # what is written as one word


def written(text: str) -> str:
    """A text in the letters that there are; those of a unit are one word."""
    return " ".join(map(_word, _PART.findall(text)))


def _word(part: str) -> str:
    return "".join(letter for letter in part if letter in LETTERS and letter != " ")


def log_likelihoods(told: Real, texts: Sequence[str]) -> list[float]:
    """Of each text (nats), over all ways to write it in these steps: a letter may be held, and between two there may be
    none. All at once. Of what cannot be written in so few steps: minus a very large number."""
    places, skips = _places(texts)
    ways = np.full((len(texts), places.shape[1] + 2), _NEVER, np.float32)  # before it two places that are never reached
    ways[:, 2:4] = told[0, places[:, :2]]
    for step in told[1:]:
        jumps = np.where(skips, ways[:, :-2], _NEVER)
        ways[:, 2:] = np.logaddexp(np.logaddexp(ways[:, 2:], ways[:, 1:-1]), jumps) + step[places]
    rows, ends = np.arange(len(texts)), np.array([2 * len(text) + 2 for text in texts])
    return [float(one) for one in np.logaddexp(ways[rows, ends], ways[rows, ends - 1])]


def _places(texts: Sequence[str]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """A row for each text: place 2n + 1 holds the output for the letter n, the even ones that for no letter. And where
    a place may be reached from the letter before it at once: only where it is another one."""
    places = np.zeros((len(texts), 2 * max(map(len, texts)) + 1), np.intp)
    for row, text in zip(places, texts, strict=True):
        row[1 : 2 * len(text) : 2] = [LETTERS.index(letter) + 1 for letter in text]
    skips = np.zeros(places.shape, bool)
    skips[:, 3::2] = places[:, 3::2] != places[:, 1:-2:2]
    return places, skips


def word_steps(told: Real, text: str) -> list[tuple[int, int]]:
    """The steps, from and to, that each word of the text is written in, on the likeliest of all ways to write it."""
    (places,), (skips,) = _places([text])
    best = np.full(len(places), _NEVER, np.float32)
    best[:2] = told[0, places[:2]]
    came = np.zeros((len(told), len(places)), np.intp)  # how many places further
    for at, step in enumerate(told[1:], 1):
        one, two = (np.concatenate([np.full(n, _NEVER, np.float32), best[:-n]]) for n in (1, 2))
        ways = np.stack([best, one, np.where(skips, two, _NEVER)])
        came[at] = ways.argmax(axis=0)
        best = ways.max(axis=0) + step[places]
    place = len(places) - 1 - int(best[-2] > best[-1])
    written: dict[int, list[int]] = {}
    for at in range(len(told) - 1, -1, -1):
        if place % 2:
            written.setdefault(place // 2, []).append(at)
        place -= int(came[at, place])
    return _by_word(text, written)


def words_unlike(told: Real, text: str) -> list[float]:
    """For each word of a text that can be written, how much less likely it is than letters in no language (nats), in
    its part of the steps: to the middle between it and its neighbours. The letters of a unit have one part."""
    parts = _PART.findall(text)
    words = [_word(part) for part in parts]
    spans = word_steps(told, " ".join(words))
    cuts = [0, *((before[1] + after[0]) // 2 for before, after in pairwise(spans)), len(told)]
    unlike = [_unlike(told[begin:end], word) for word, (begin, end) in zip(words, pairwise(cuts), strict=True)]
    return [nats for part, nats in zip(parts, unlike, strict=True) for _ in part.split()]


def _unlike(told: Real, text: str) -> float:
    heard = spelled(told)
    if heard == text:
        return 0.0
    own, its = log_likelihoods(told, [heard, text])
    return own - its


def _by_word(text: str, written: Mapping[int, list[int]]) -> list[tuple[int, int]]:
    """`written`: letter of the text -> its steps."""
    spans, first = [], 0
    for word in text.split(" "):
        steps = [at for letter in range(first, first + len(word)) for at in written[letter]]
        spans.append((min(steps), max(steps) + 1))
        first += len(word) + 1
    return spans


def spelled(told: Real) -> str:
    """The likeliest letter of each step, put together."""
    best = told.argmax(axis=1)
    kept = best[np.flatnonzero(np.diff(best, prepend=-1))]
    return " ".join("".join(LETTERS[number - 1] for number in kept if number).split())
