"""Free talk: an utterance decoded by everyday words and what is expected beside them, and by the letters of the second
opinion.

Law: the letters choose between the paths of the decoder. Where they are far from the one that was chosen, the words are
found in them, by what is expected; the times are the decoder's. A word that the model lacks is put in the place of the
one that it spells it as.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from itertools import accumulate, pairwise
from pathlib import Path as File
from typing import Protocol

from assistant.ears.decoder import VoskDecoder, load
from assistant.ears.decoding import Path, Samples, Spoken
from assistant.ears.opinion import Opinion
from assistant.ears.searching import Search, Ways
from assistant.ears.speeds import TWO, hearings, means
from assistant.ears.spelling import Real, log_likelihoods, written

PATHS = 200
"""Of 1 141 words by 28 voices, in sentences of writers that nothing was learnt from, 9.5 in 100 were wrong so; with 60
paths 11.3, with 20 11.9, by the decoder alone 18.2; with diesel noise at 10 dB 16.2, 17.0, 18.0, 27.0."""
LETTERS_WEIGHT = 0.2
"""Of the letters' log likelihood beside the decoder's. From 0.1 to 0.4 it makes little difference."""
BEGINNINGS, FOUND = 60, 8
"""How many beginnings the search in the letters keeps after each step, how many texts it gives."""
LETTERS_NATS, LEAD_NATS = 12.0, 8.0
"""What was found in the letters is taken where the path is so far behind it by them alone, and so far by them and what
is expected together. Of 100 sentences by nine voices, clean and in diesel noise at 10 dB, 8.8 words in 100 are wrong
so; with one of the two limits 9.4 and 9.5, with none 10.9, where nothing is ever taken 12.8."""


class Expecting(Ways, Protocol):
    """The ways to go on, and what a text costs."""

    def cost(self, text: str) -> float:
        """In nats, beside the letters."""


class FreeTalk:
    """`folder`: a model folder, of any grammar; `ways`: what is expected there. `stand_ins`: words that the model
    lacks, and how it spells them; only what it spells as one word counts, for of several ("and chalked") each may have
    been meant. Raises Missing without vosk, BadInput when it does not load."""

    def __init__(self, folder: File, opinion: Opinion, ways: Expecting, stand_ins: Mapping[str, Sequence[str]]) -> None:
        self._loaded = load(folder)
        self._opinion = opinion
        self._ways, self._search = ways, Search(ways, BEGINNINGS)
        self._meant = {way: word for word, ways in stand_ins.items() for way in ways if " " not in way}

    def heard(self, sound: Samples) -> Path:
        """What was said in a sound of 16 kHz; no words where nothing was found."""
        decoder = VoskDecoder(self._loaded, PATHS)
        decoder.accept(sound)
        paths = [self._as_meant(path) for path in decoder.final()]
        if not paths:
            return Path("", (), 0.0)
        told = hearings(self._opinion, sound, TWO)
        if not told:
            return paths[0]
        likely = _likelihoods(told, [path.text for path in paths])
        _, best = max(zip(likely, paths, strict=True), key=lambda one: one[1].score + LETTERS_WEIGHT * one[0])
        return self._by_the_letters(told, best)

    def _by_the_letters(self, told: Sequence[Real], path: Path) -> Path:
        """What is found in the letters, where they are far from this path; else the path."""
        found = self._search.texts(told[0], FOUND)
        its, *likely = _likelihoods(told, [path.text, *found])
        ahead = {text: nats - its for text, nats in zip(found, likely, strict=True)}
        lead = {text: nats + self._ways.cost(path.text) - self._ways.cost(text) for text, nats in ahead.items()}
        best = max(lead, key=lead.__getitem__, default=None)
        if best is None or ahead[best] <= LETTERS_NATS or lead[best] <= LEAD_NATS:
            return path
        return replace(path, text=best, words=tuple(_timed(best.split(), path.words)))

    def _as_meant(self, path: Path) -> Path:
        if self._meant.keys().isdisjoint(path.text.split()):
            return path
        words = tuple(replace(word, text=self._meant.get(word.text, word.text)) for word in path.words)
        return replace(path, words=words, text=" ".join(word.text for word in words))


def _likelihoods(heard: Sequence[Real], texts: Sequence[str]) -> list[float]:
    """Of each text (nats), by all hearings together."""
    letters = [written(text) for text in texts]
    return means([log_likelihoods(told, letters) for told in heard])


def _timed(words: Sequence[str], path: Sequence[Spoken]) -> Iterator[Spoken]:
    """Words that are in the path at its times; others share the time of those that stand in their place there, or the
    pause."""
    alike = SequenceMatcher(None, [word.text for word in path], words, autojunk=False)
    for _, first, end, begin, stop in alike.get_opcodes():
        if end - first == stop - begin:
            times = [(word.start, word.end) for word in path[first:end]]
        else:
            span = (path[first].start, path[end - 1].end) if end > first else _pause(path, first)
            times = _shared(words[begin:stop], *span)
        yield from (Spoken(word, *time) for word, time in zip(words[begin:stop], times, strict=True))


def _pause(path: Sequence[Spoken], place: int) -> tuple[int, int]:
    """From the end of the word before to the beginning of the next."""
    start = path[place - 1].end if place else path[0].start
    return start, path[place].start if place < len(path) else path[-1].end


def _shared(words: Sequence[str], start: int, end: int) -> list[tuple[int, int]]:
    """The time between, by the letters of each word."""
    letters = list(accumulate(map(len, words), initial=0))
    return list(pairwise(start + (end - start) * at // max(1, letters[-1]) for at in letters))
