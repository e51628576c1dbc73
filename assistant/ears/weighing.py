"""Two ears together: what the recogniser has found and what the second opinion finds, put into one order.

Law: nothing is found but sentences of the language and paths of the strict grammar, and what is uncertain is passed on
as rivals. The second opinion is asked while the silence after an utterance is still being waited out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from assistant.core.doubt import FIRST_WEIGHT, SPELLED_NATS
from assistant.core.events import Rival, Unit
from assistant.core.hearing import says
from assistant.core.language import Language
from assistant.ears.decoding import Path, Spoken, Utterance
from assistant.ears.opinion import STEP, Opinion
from assistant.ears.searching import LanguageWays, Search
from assistant.ears.speeds import THREE_MORE, TWO, hearings, means
from assistant.ears.spelling import LETTERS, Real, log_likelihoods, spelled, word_steps, words_unlike, written

LONGEST = 160_000
"""Samples (10 s): nothing that is for the check takes longer to say."""
BEGINNINGS = 24
"""Of sentences, which the search for them keeps after each step."""
FOUND = 8
"""Sentences that the second opinion may add."""
FARTHEST = 1e6
"""Nats: what is less likely than that cannot be written in the steps that there are."""
FURTHER = ((TWO[1:], 40.0), (THREE_MORE, 14.0))
"""At which other speeds the sound is heard as well, one after another, until no rival that means something else is
nearer than so many nats. Of 490 readings in seven conditions 439 were right and 1 wrong so, with 1.7 hearings of each
utterance and 1.2 of those without noise; with two at once and three more under 14 nats the same with 2.4 and 2.1; with
20 nats at the first 438 and 2."""
UNLISTED_NATS = 6.0
"""At least so far behind is what the recogniser has not found: as wide as its lattice beam."""


@dataclass(frozen=True)
class Weighed:
    """The best reading of an utterance, the others with what they lack to it, and how unlike the sound it is (see
    Heard)."""

    best: Path
    rivals: tuple[Rival, ...]
    unlike: float | None = None


def by_the_recogniser(paths: Sequence[Path]) -> Weighed:
    """The order of the recogniser alone: its best path, and each other text once."""
    (_, *others) = _behind(paths).items()
    return Weighed(paths[0], tuple(Rival(text=text, behind=round(nats, 3)) for text, nats in others))


def _behind(paths: Sequence[Path]) -> dict[str, float]:
    """How much less likely than the first path each text is, in nats; in their order."""
    found: dict[str, float] = {}
    for path in paths:
        found.setdefault(path.text, max(0.0, paths[0].score - path.score))
    return found


class _Order(NamedTuple):
    best: str
    rivals: tuple[Rival, ...]
    unlike: float


class Weighing:
    """Of what is said in `language`, with `unit` as the usual one. One utterance at a time."""

    def __init__(self, opinion: Opinion, language: Language, unit: Unit = "psi") -> None:
        self._opinion, self._language, self._unit = opinion, language, unit
        self._search = Search(LanguageWays(language.next_words, language.stand), BEGINNINGS)
        self._known: tuple[int, tuple[Path, ...], Weighed] | None = None

    def weighed(self, utterance: Utterance) -> Weighed:
        """May be asked about what may be the utterance while its last silence is still going on: what was found then
        holds at the end, unless it was decoded again since, with more of the sound."""
        if self._known and self._known[:2] == (utterance.start, utterance.paths):
            return self._known[2]
        heard = hearings(self._opinion, utterance.sound[-LONGEST:], TWO[:1])
        behind = self._contenders(utterance.paths, heard[0]) if heard else {}
        weighed = self._together(utterance, behind, heard) if behind else by_the_recogniser(utterance.paths)
        self._known = utterance.start, utterance.paths, weighed
        return weighed

    def _contenders(self, paths: Sequence[Path], told: Real) -> dict[str, float]:
        """What may have been said, with how far the recogniser has it behind its best; none where the letters can't
        write that."""
        behind = {text: nats for text, nats in _behind(paths).items() if set(text) <= set(LETTERS)}
        if paths[0].text not in behind:
            return {}
        return dict.fromkeys(self._search.texts(told, FOUND), max(UNLISTED_NATS, *behind.values())) | behind

    def _together(self, utterance: Utterance, behind: Mapping[str, float], heard: Sequence[Real]) -> Weighed:
        paths, texts = utterance.paths, [written(text) for text in behind]
        likely = [log_likelihoods(told, [spelled(told), *texts]) for told in heard]
        order = self._order(paths[0].text, behind, likely)
        for lengths, clear in FURTHER:
            if self._lead(order) >= clear:
                break
            more = hearings(self._opinion, utterance.sound[-LONGEST:], lengths)
            heard = [*heard, *more]
            likely += [log_likelihoods(told, [spelled(told), *texts]) for told in more]
            order = self._order(paths[0].text, behind, likely)
        best = order.best
        path = next((path for path in paths if path.text == best), None)
        path = path or Path(best, _spoken(best, paths, heard[0], len(utterance.sound)), paths[0].score - behind[best])
        if order.unlike < FARTHEST:
            path = replace(path, words=_likened(path.words, heard))
        return Weighed(path, order.rivals, round(order.unlike, 3))

    def _order(self, first: str, behind: Mapping[str, float], likely: Sequence[Sequence[float]]) -> _Order:
        """`likely`: for each hearing, of its own letters and of the texts in `behind` (nats)."""
        own, *others = means(likely)
        score = dict(zip(behind, others, strict=True))
        best = self._best(first, behind, score, own)
        rivals = (
            Rival(
                text=text,
                behind=round(behind[text] - behind[best], 3),
                behind_second=round(score[best] - score[text], 3),
            )
            for text in sorted(behind, key=lambda text: FIRST_WEIGHT * behind[text] - score[text])
            if text != best
        )
        return _Order(best, tuple(rivals), own - score[best])

    def _lead(self, order: _Order) -> float:
        """How far the nearest rival that means something else is behind, in nats."""
        meant = says(order.best, self._language, self._unit)
        others = (rival for rival in order.rivals if says(rival.text, self._language, self._unit) != meant)
        return min((FIRST_WEIGHT * one.behind + (one.behind_second or 0.0) for one in others), default=math.inf)

    def _best(self, first: str, behind: Mapping[str, float], score: Mapping[str, float], own: float) -> str:
        """The likeliest sentence of the language. Where the recogniser has heard talk, it is talk, unless the letters
        spell the sentence well."""
        sentences = [text for text in behind if self._is_sentence(text)]
        if not sentences:
            return first
        best = max(sentences, key=lambda text: score[text] - FIRST_WEIGHT * behind[text])
        return best if self._is_sentence(first) or own - score[best] <= SPELLED_NATS else first

    def _is_sentence(self, text: str) -> bool:
        return self._language.stand(text.split()).complete


def _spoken(text: str, paths: Sequence[Path], told: Real, samples: int) -> tuple[Spoken, ...]:
    """The words with their times: those of a path with as many words ("ninety two" for "nine two"), else by the steps
    of the letters, which tell where a word begins better than where it ends. `samples`: of the sound that they belong
    to; of a longer one its end was heard."""
    words = text.split()
    alike = next((path for path in paths if len(path.words) == len(words)), None)
    if alike:
        return tuple(Spoken(word, one.start, one.end) for word, one in zip(words, alike.words, strict=True))
    before = max(0, samples - LONGEST)
    spans = zip(words, word_steps(told, text), strict=True)
    return tuple(Spoken(word, before + begin * STEP, before + end * STEP) for word, (begin, end) in spans)


def _likened(words: Sequence[Spoken], heard: Sequence[Real]) -> tuple[Spoken, ...]:
    """The words with how unlike their sound each is: the mean of all hearings."""
    text = " ".join(word.text for word in words)
    each = means([words_unlike(told, text) for told in heard])
    return tuple(replace(word, unlike=round(nats, 3)) for word, nats in zip(words, each, strict=True))
