"""A grammar for the free decode that expects certain turns of phrase beside everyday words.

Law: everyday speech stays possible: a word follows another with the mean of how likely the speech model finds that and
how often it is so in the turns. Nothing that was said is forced into them. The result has the published layout of an
OpenFst vector acceptor, one state for each history of one word, with its way back to no history.
"""

from __future__ import annotations

import hashlib
import struct
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log
from pathlib import Path

import numpy as np

from assistant.ears import lexicon, model
from assistant.ears.ngram import History
from assistant.ears.strict import Compile

SHARE = 0.85
"""Of the turns among what follows a word that is in them; of the free talk it is the rest."""
PAIR_SHARE = 0.6
"""The same after two words that stand so in the turns; the rest is what follows the second alone."""
ALONE = 0.6
"""The same without a history."""
WORDS = 10_000
"""The commonest words of the model that stay possible beside those of the turns."""
_END_COST = 2.0  # an utterance may end anywhere
START = 1
"""The state before the first word."""
_VERSION, _PROPERTIES = 2, 3  # expanded and mutable; everything else is found out when it is asked for
ARC = np.dtype([("in", "<i4"), ("out", "<i4"), ("cost", "<f4"), ("next", "<i4")])
STATE = "<fq"
"""Before the arcs of a state: its cost as an end, how many they are."""

Turn = Sequence[str]


@dataclass(frozen=True)
class Expected:
    """`turns`: sentences as words, all those that are expected. `stand_ins`: how a word that the model lacks is spelled
    by its sound; the free words then have that spelling."""

    turns: tuple[Turn, ...]
    stand_ins: Mapping[str, Sequence[str]]

    def numbered(self, words: Mapping[str, int]) -> Iterator[list[int]]:
        """The turns in numbers of the model, one for each spelling of a word that it lacks; without the turns that it
        can't spell."""
        for turn in self.turns:
            lacks = [word for word in turn if word not in words]
            for way in range(max((len(self.stand_ins.get(word, ())) for word in lacks), default=1)):
                spelled = [part for word in turn for part in self._spelling(word, way, words)]
                if all(part in words for part in spelled):
                    yield [words[part] for part in spelled]

    def _spelling(self, word: str, way: int, words: Mapping[str, int]) -> list[str]:
        ways = self.stand_ins.get(word)
        return [word] if word in words or not ways else ways[way % len(ways)].split()

    @property
    def fingerprint(self) -> str:
        """Changes whenever the turns do, or what is made of them."""
        whole = hashlib.sha256(Path(__file__).read_bytes())
        whole.update(repr((self.turns, sorted(self.stand_ins.items()))).encode())
        return whole.hexdigest()


Probabilities = dict[int, float]


class _Mixture:
    """The model's costs and the counts of the turns, by numbers of words. 0 stands before the first word of a turn."""

    def __init__(self, known: lexicon.Lexicon, turns: Sequence[Sequence[int]], histories: Iterable[History]) -> None:
        self._after: dict[int, Counter[int]] = defaultdict(Counter)
        self._after_pair: dict[tuple[int, int], Counter[int]] = defaultdict(Counter)
        alone: Counter[int] = Counter()
        for turn in turns:
            alone.update(turn)
            for one, other in pairwise((0, *turn)):
                self._after[one][other] += 1
            for first, second, third in zip((0, *turn), turn, turn[1:], strict=False):
                self._after_pair[first, second][third] += 1
        self.alone = _alone(known, alone)
        self._histories = {one.word: one for one in histories if one.word in self.alone or not one.word}
        self.words = sorted({0, *self._histories, *self._after})
        self.pairs = sorted(self._after_pair)

    def after(self, word: int) -> Probabilities:
        """What follows `word` otherwise than it stands by itself."""
        counts = self._after.get(word, Counter())
        share = SHARE if counts else 0.0
        seen, back = self._seen(word)
        found = {
            other: (1 - share) * (seen[other] if other in seen else back * self.alone[other])
            for other in {*seen, *counts}
        }
        for other, count in counts.items():
            found[other] += share * count / counts.total()
        return found

    def after_pair(self, pair: tuple[int, int], single: Probabilities, back: float) -> Probabilities:
        """What follows two words of the turns. `single`, `back`: what follows the second one, and at what factor
        everything else."""
        counts = self._after_pair[pair]
        return {
            other: PAIR_SHARE * count / counts.total()
            + (1 - PAIR_SHARE) * (single[other] if other in single else back * self.alone[other])
            for other, count in counts.items()
        }

    def _seen(self, word: int) -> tuple[Probabilities, float]:
        history = self._histories.get(word)
        if history is None:
            return {}, 1.0
        kept = zip(history.words.tolist(), np.exp(-history.costs).tolist(), strict=True)
        return {other: likely for other, likely in kept if other in self.alone}, exp(-history.backoff)


def _alone(known: lexicon.Lexicon, counts: Counter[int]) -> Probabilities:
    free = {known.ids[word]: exp(-cost) for word, cost in known.commonest(WORDS)}
    free |= {known.ids[word]: exp(-cost) for word, cost in known.costs.items() if known.ids[word] in counts}
    whole, counted = sum(free.values()), max(1, counts.total())
    return {
        word: (1 - ALONE) * free.get(word, 0.0) / whole + ALONE * counts[word] / counted for word in {*free, *counts}
    }


def compile_expected(source: Path) -> Compile[Expected]:
    """What `strict.prepare` calls: writes the grammar for a model folder `source`. A turn with a word that the model
    lacks is passed over."""

    def write(language: Expected, words: Mapping[str, int], background: Sequence[tuple[str, float]], out: Path) -> None:
        del background  # the whole model is there to be read
        mixed = _Mixture(lexicon.read(source), list(language.numbered(words)), lexicon.histories(source))
        out.write_bytes(b"".join(_acceptor(mixed)))

    return write


def _acceptor(mixed: _Mixture) -> Iterator[bytes]:
    """State 0: no history; START; then one for each word, and for each pair, that has followers of its
    own."""
    singles = {word: at for at, word in enumerate(mixed.words, 1)}
    pairs = {pair: at for at, pair in enumerate(mixed.pairs, len(singles) + 1)}

    def goes_to(before: int, word: int) -> int:
        return pairs.get((before, word), singles.get(word, 0))

    bodies = [_state({word: (likely, singles.get(word, 0)) for word, likely in mixed.alone.items()}, None)]
    following: dict[int, tuple[Probabilities, float]] = {}
    for word in mixed.words:
        likely = mixed.after(word)
        back = _rest(likely, mixed.alone)
        following[word] = likely, back
        bodies.append(_state({other: (p, goes_to(word, other)) for other, p in likely.items()}, (back, 0)))
    for pair in mixed.pairs:
        single, back = following[pair[1]]
        likely = mixed.after_pair(pair, single, back)
        rest = _rest(
            likely, {other: single[other] if other in single else back * mixed.alone[other] for other in likely}
        )
        arcs = {other: (p, goes_to(pair[1], other)) for other, p in likely.items()}
        bodies.append(_state(arcs, (rest, singles[pair[1]])))
    yield _header(len(bodies), sum(count for count, _ in bodies))
    yield from (body for _, body in bodies)


def _rest(likely: Probabilities, shorter: Probabilities) -> float:
    """The factor for everything that `likely` does not hold, so that all together comes to 1."""
    left = 1 - sum(likely.values())
    return max(1e-4, left / max(1e-9, 1 - sum(shorter[word] for word in likely)))


def _state(arcs: Mapping[int, tuple[float, int]], back: tuple[float, int] | None) -> tuple[int, bytes]:
    """(number of arcs, the state as bytes). `arcs`: word -> (probability, next state), sorted by word in the file;
    `back`: the same for the way to a shorter history."""
    rows = [] if back is None else [(0, 0, -log(back[0]), back[1])]
    rows += [(word, word, -log(arcs[word][0]), arcs[word][1]) for word in sorted(arcs)]
    return len(rows), struct.pack(STATE, _END_COST, len(rows)) + np.array(rows, ARC).tobytes()


def _header(states: int, arcs: int) -> bytes:
    counts = struct.pack("<iiQqqq", _VERSION, 0, _PROPERTIES, START, states, arcs)
    return model.OPENFST + _name("vector") + _name("standard") + counts


def _name(text: str) -> bytes:
    return struct.pack("<i", len(text)) + text.encode()


HEADER = len(_header(0, 0))
"""Bytes before the first state."""
