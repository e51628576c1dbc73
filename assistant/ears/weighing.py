"""Two ears together: what the recogniser has found and what the second opinion finds, put into one order.

Law: nothing is found but sentences of the language and paths of the strict grammar, and what is uncertain is passed on
as rivals. The second opinion is asked while the silence after an utterance is still being waited out.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from assistant.core.doubt import FIRST_WEIGHT, SPELLED_NATS
from assistant.core.events import Rival
from assistant.core.language import Language
from assistant.ears.decoding import Path, Spoken, Utterance
from assistant.ears.opinion import STEP, Opinion
from assistant.ears.searching import LanguageWays, Search
from assistant.ears.speeds import AT_FIRST, IN_DOUBT, hearings
from assistant.ears.spelling import LETTERS, Real, log_likelihoods, spelled, word_steps, words_unlike, written

LONGEST = 160_000
"""Samples (10 s): nothing that is for the check takes longer to say."""
BEGINNINGS = 24
"""Of sentences, which the search for them keeps after each step."""
FOUND = 8
"""Sentences that the second opinion may add."""
FARTHEST = 1e6
"""Nats: what is less likely than that cannot be written in the steps that there are."""
CLEAR_NATS = 14.0
"""Where a rival that means something else is less far behind, the sound is heard at more speeds: a third of 490
readings in seven conditions. 439 were right and 1 wrong so; with 20 nats 438 and 1, with
rivals of the same meaning as well 436 and 1."""
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


class Weighing:
    """Of what is said in `language`. One utterance at a time."""

    def __init__(self, opinion: Opinion, language: Language) -> None:
        self._opinion, self._stand, self._parse = opinion, language.stand, language.parse
        self._search = Search(LanguageWays(language.next_words, language.stand), BEGINNINGS)
        self._known: tuple[int, tuple[Path, ...], Weighed] | None = None

    def weighed(self, utterance: Utterance) -> Weighed:
        """May be asked about what may be the utterance while its last silence is still going on: what was found then
        holds at the end, unless it was decoded again since, with more of the sound."""
        if self._known and self._known[:2] == (utterance.start, utterance.paths):
            return self._known[2]
        sound = utterance.sound[-LONGEST:]
        told = hearings(self._opinion, sound, AT_FIRST)
        if told and (behind := self._contenders(utterance.paths, told[0])):
            weighed = self._together(utterance, behind, told)
            if self._lead(weighed) < CLEAR_NATS:
                weighed = self._together(utterance, behind, told + hearings(self._opinion, sound, IN_DOUBT))
        else:
            weighed = by_the_recogniser(utterance.paths)
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
        paths, told = utterance.paths, heard[0]
        own, score = _scores(heard, behind)
        best = self._best(paths[0].text, behind, score, own)
        rivals = tuple(
            Rival(
                text=text,
                behind=round(behind[text] - behind[best], 3),
                behind_second=round(score[best] - score[text], 3),
            )
            for text in sorted(behind, key=lambda text: FIRST_WEIGHT * behind[text] - score[text])
            if text != best
        )
        path = next((path for path in paths if path.text == best), None)
        path = path or Path(best, _spoken(best, paths, told, len(utterance.sound)), paths[0].score - behind[best])
        if own - score[best] < FARTHEST:
            path = replace(path, words=_likened(path.words, heard))
        return Weighed(path, rivals, round(own - score[best], 3))

    def _lead(self, weighed: Weighed) -> float:
        """How far the nearest rival that means something else is behind, in nats."""
        meant = self._meaning(weighed.best.text)
        others = (rival for rival in weighed.rivals if self._meaning(rival.text) != meant)
        return min((FIRST_WEIGHT * one.behind + (one.behind_second or 0.0) for one in others), default=math.inf)

    def _meaning(self, text: str) -> object:
        """What a sentence of the language means; talk means itself."""
        first = next(iter(self._parse(text.split())), None)
        return text if first is None else [(meant.tag, meant.tenths) for meant in first]

    def _best(self, first: str, behind: Mapping[str, float], score: Mapping[str, float], own: float) -> str:
        """The likeliest sentence of the language. Where the recogniser has heard talk, it is talk, unless the letters
        spell the sentence well."""
        sentences = [text for text in behind if self._is_sentence(text)]
        if not sentences:
            return first
        best = max(sentences, key=lambda text: score[text] - FIRST_WEIGHT * behind[text])
        return best if self._is_sentence(first) or own - score[best] <= SPELLED_NATS else first

    def _is_sentence(self, text: str) -> bool:
        return self._stand(text.split()).complete


def _scores(heard: Sequence[Real], texts: Collection[str]) -> tuple[float, dict[str, float]]:
    """How likely the letters that were written are, and the texts (nats): the means of all hearings."""
    likely = [log_likelihoods(told, [spelled(told), *map(written, texts)]) for told in heard]
    own, *others = (fmean(several) for several in zip(*likely, strict=True))
    return own, dict(zip(texts, others, strict=True))


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
    each = [fmean(several) for several in zip(*(words_unlike(told, text) for told in heard), strict=True)]
    return tuple(replace(word, unlike=round(nats, 3)) for word, nats in zip(words, each, strict=True))
