"""Free talk: an utterance decoded by everyday words and what is expected beside them, its rivals weighed by the letters
of the second opinion.

Law: the words are those of one path of the decoder, with its times; the second opinion only chooses between paths. A
word that the model lacks is put in the place of the one that it spells it as.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path as File

from assistant.ears.decoder import VoskDecoder, load
from assistant.ears.decoding import Path, Samples
from assistant.ears.opinion import Opinion
from assistant.ears.spelling import log_likelihoods, written

PATHS = 200
"""Of 1 141 words by 28 voices, in sentences of writers that nothing was learnt from, 9.5 in 100 were wrong so; with 60
paths 11.3, with 20 11.9, by the decoder alone 18.2; with diesel noise at 10 dB 16.2, 17.0, 18.0, 27.0."""
LETTERS_WEIGHT = 0.2
"""Of the letters' log likelihood beside the decoder's. From 0.1 to 0.4 it makes little difference."""


class FreeTalk:
    """`folder`: a model folder, of any grammar. `stand_ins`: words that the model lacks, and how it spells them; only
    what it spells as one word counts, for of several ("and chalked") each may have been meant. Raises Missing without
    vosk, BadInput when it does not load."""

    def __init__(self, folder: File, opinion: Opinion, stand_ins: Mapping[str, Sequence[str]]) -> None:
        self._loaded = load(folder)
        self._opinion = opinion
        self._meant = {way: word for word, ways in stand_ins.items() for way in ways if " " not in way}

    def heard(self, sound: Samples) -> Path:
        """What was said in a sound of 16 kHz; no words where nothing was found."""
        decoder = VoskDecoder(self._loaded, PATHS)
        decoder.accept(sound)
        paths = [self._as_meant(path) for path in decoder.final()]
        if not paths:
            return Path("", (), 0.0)
        told = self._opinion.letters(sound)
        if told is None:
            return paths[0]
        likely = log_likelihoods(told, [written(path.text) for path in paths])
        _, best = max(zip(likely, paths, strict=True), key=lambda one: one[1].score + LETTERS_WEIGHT * one[0])
        return best

    def _as_meant(self, path: Path) -> Path:
        if self._meant.keys().isdisjoint(path.text.split()):
            return path
        words = tuple(replace(word, text=self._meant.get(word.text, word.text)) for word in path.words)
        return replace(path, words=words, text=" ".join(word.text for word in words))
