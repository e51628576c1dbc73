"""Sound to Heard: the strict grammar, weighed with a second opinion, times and levels.

Law: a text is always a true path of the grammar or a whole sentence of its language, never a consensus of several, and
what is uncertain is passed on as rivals, not decided here. Times are those of the sound that was fed, whatever the
treatment before the decoder delays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path as File

import numpy as np

from assistant.core.events import Heard, Unit, Word
from assistant.core.language import Stand
from assistant.ears.activity import FRAME, Activity
from assistant.ears.decoder import VoskDecoder, load
from assistant.ears.decoding import RATE_HZ, Path, Samples, Utterance
from assistant.ears.ending import always_open, may_be_joined, wait_by
from assistant.ears.freely import FreeTalk
from assistant.ears.frontend import HELD_BACK, FrontEnd
from assistant.ears.loudness import Loudness
from assistant.ears.utterance import Utterances
from assistant.ears.weighing import Weighed, Weighing, by_the_recogniser

_FAINT = RATE_HZ // 10  # less voice than this, and words shorter than this in all, are noise
_LONG_GAP = RATE_HZ  # a longer hole in the sound ends the utterance
_NEAR_GAP = RATE_HZ // 5


class Recogniser:
    """Feed it 16 kHz mono sound in blocks of any size; it gives a Heard for each utterance.

    `strict_folder`: what `strict.prepare` returned. `stand`: how far a word sequence has got in the language; it
    decides how long a silence ends an utterance, nothing else (0.8 s without it).
    `unit`: of the gauge, where it is known; a number that it can't go on to is not waited for.
    `weighing`: puts what was heard and what a second opinion hears into one order.
    `free`: decodes each utterance a second time, as free talk (costs three to four times the rest).
    `joining`: replace it where what is said during the answer may be heard; while it says so, "eighty" is given sooner,
    and a "four" that comes after it gives an utterance that goes on with it ("eighty four").
    Models are loaded once in a process. Raises Missing without vosk, BadInput for a folder that does not load.
    """

    def __init__(
        self,
        strict_folder: File,
        *,
        stand: Callable[[Sequence[str]], Stand] | None = None,
        free: FreeTalk | None = None,
        front_end: bool = True,
        weighing: Weighing | None = None,
        unit: Unit | None = None,
    ) -> None:
        strict = load(strict_folder)
        self._free = free
        self._weighing = weighing
        self.joining: Callable[[], bool] = lambda: False
        self._last = ""  # the text given last
        self._front = FrontEnd() if front_end else None
        self._utterances = Utterances(
            lambda: VoskDecoder(strict),
            wait_by(stand, lambda: self.joining(), unit) if stand else always_open,
            self._look_ahead,
            self._silence_after,
            lambda text: may_be_joined(text, unit) and self.joining(),
        )
        self._activity = Activity()  # of the sound before its treatment
        self._loudness = Loudness()
        self._treated = Loudness(raised=True)
        self._fed = 0
        self._gaps: list[int] = []

    @property
    def partial(self) -> str:
        """The text so far of the utterance that is being spoken; it may still change, so it is for showing only."""
        return self._utterances.partial

    def feed(self, block: Samples, *, first: int | None = None, gap: bool = False) -> list[Heard]:
        """The next samples. `first`: the number of the first one, where some may be missing before it; `gap`: samples
        were lost, whether or not their number is known. An utterance with a gap inside says so."""
        heard: list[Heard] = []
        missing = max(0, (self._fed if first is None else first) - self._fed)
        if missing or gap:
            self._gaps.append(self._fed)
        if missing > _LONG_GAP:
            heard = self.finish()
            self._utterances.skip(missing)
            self._loudness.skip(missing)
            self._treated.skip(missing)
            self._activity.skip(missing)
            self._fed += missing
        elif missing:
            heard = self._take(np.zeros(missing, np.int16))
        return heard + self._take(block)

    def finish(self) -> list[Heard]:
        """The sound ends here: what was being said is given as it is. More may be fed afterwards."""
        rest = self._front.flush() if self._front else np.zeros(0, np.int16)
        self._treated.feed(rest)
        return self._heard(self._utterances.feed(rest) + self._utterances.finish())

    def _take(self, block: Samples) -> list[Heard]:
        self._fed += len(block)
        self._loudness.feed(block)
        self._activity.feed(block)
        treated = self._front.process(block) if self._front else block
        self._treated.feed(treated)
        return self._heard(self._utterances.feed(treated))

    def _look_ahead(self, utterance: Utterance) -> str:
        return self._weighed(utterance).best.text

    def _silence_after(self, at: int) -> int:
        """The sound before its treatment is ahead of it: where that is silent, the silence need not be waited for."""
        known = HELD_BACK - FRAME  # of larger blocks more is known, but the size of the blocks may not matter
        return known if self._front and self._activity.quiet_between(at, at + known) else 0

    def _heard(self, utterances: list[Utterance]) -> list[Heard]:
        found = map(self._told, utterances)
        return [heard for heard in found if heard]

    def _told(self, utterance: Utterance) -> Heard | None:
        """None: nothing was said, or nothing more than was given before."""
        if _is_faint(utterance):
            return None
        weighed = self._weighed(utterance)
        text = weighed.best.text
        if utterance.given and text == self._last:
            return None
        goes_on = bool(utterance.given) and text.startswith(f"{self._last} ")
        if utterance.given and not goes_on:
            rest = self._utterances.without_given(utterance)
            return self._told(rest) if rest else None
        self._last = text
        return self._as_heard(utterance, weighed).model_copy(update={"goes_on": goes_on})

    def _as_heard(self, utterance: Utterance, weighed: Weighed) -> Heard:
        best = weighed.best
        spans = [(utterance.start + word.start, utterance.start + word.end) for word in best.words]
        level, ratio, clipped = self._loudness.of(spans)
        _, treated, _ = self._treated.of(spans)
        start, end = spans[0][0], spans[-1][1]
        gap = any(start - _NEAR_GAP <= at <= end + _NEAR_GAP for at in self._gaps)
        self._gaps = [at for at in self._gaps if at > end]
        free = self._free.heard(utterance.sound) if self._free else None
        return Heard(
            text=best.text,
            start_ms=_ms(start),
            end_ms=_ms(end),
            words=_timed(best, utterance.start),
            rivals=weighed.rivals,
            unlike=weighed.unlike,
            open_text=free.text if free else None,
            open_words=_timed(free, utterance.start) if free else (),
            level_db=None if level is None else round(level, 1),
            snr_db=None if ratio is None else round(ratio, 1),
            treated_snr_db=None if treated is None else round(treated, 1),
            clipped=round(clipped, 2),
            gap=gap,
        )

    def _weighed(self, utterance: Utterance) -> Weighed:
        return self._weighing.weighed(utterance) if self._weighing else by_the_recogniser(utterance.paths)


def _timed(path: Path, start: int) -> tuple[Word, ...]:
    """The words with their times; `start`: the sample at which the utterance begins."""
    return tuple(
        Word(text=word.text, start_ms=_ms(start + word.start), end_ms=_ms(start + word.end), unlike=word.unlike)
        for word in path.words
    )


def _is_faint(utterance: Utterance) -> bool:
    """The decoder finds a short word in plain noise now and then."""
    return utterance.loud < _FAINT and sum(word.end - word.start for word in utterance.paths[0].words) < _FAINT


def _ms(sample: int) -> int:
    return round(sample * 1000 / RATE_HZ)
