"""The second opinion on an utterance: asked while the silence after it is still being waited out.

Law: it only adds what the other ear thinks of the rivals; which text is the best one and which are its rivals was
found before. Scores are comparable within one question only, so they are kept for just the texts of the last one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.core.events import Rival
from assistant.core.language import Stand
from assistant.ears.opinion import Opinion, Samples
from assistant.ears.utterance import Path, Utterance

RATE_HZ = 16_000
_WEIGHED = 12  # rivals; each costs a hundredth of a second
_WEIGHED_AHEAD = 16  # before the end is known: the order of the last ones may still change
_AROUND = RATE_HZ * 3 // 10  # of the sound beside the words


class Weighing:
    """`stand`: of a text that is not complete nothing is asked ahead."""

    def __init__(self, opinion: Opinion, stand: Callable[[Sequence[str]], Stand] | None) -> None:
        self._opinion, self._stand = opinion, stand
        self._scores: dict[str, float] = {}

    def ahead(self, utterance: Utterance) -> None:
        """Ask about what may be the utterance."""
        best, *others = utterance.paths
        if self._stand is not None and self._stand(best.text.split()).complete:
            texts = dict.fromkeys(path.text for path in (best, *others))
            self._ask(list(texts)[: 1 + _WEIGHED_AHEAD], best, utterance.sound)

    def weighed(self, best: Path, rivals: tuple[Rival, ...], sound: Samples) -> tuple[Rival, ...]:
        """The rivals with what the second opinion says of the first of them."""
        texts = [best.text, *(rival.text for rival in rivals[:_WEIGHED])]
        if not self._scores.keys() >= set(texts):
            self._ask(texts, best, sound)
        scores, self._scores = self._scores, {}
        known = scores.keys() & set(texts)
        return tuple(
            rival.model_copy(update={"behind_second": round(scores[best.text] - scores[rival.text], 3)})
            if rival.text in known
            else rival
            for rival in rivals
        )

    def _ask(self, texts: list[str], best: Path, sound: Samples) -> None:
        spoken = sound[max(0, best.words[0].start - _AROUND) : best.words[-1].end + _AROUND]
        scores = self._opinion.scores(spoken, texts) if len(texts) > 1 else None
        self._scores = dict(zip(texts, scores or (), strict=False))
