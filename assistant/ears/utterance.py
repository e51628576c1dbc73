"""Where an utterance ends: the rule that cuts the stream of sound into what was said in one go.

Law: everything is counted in samples of the sound, nothing in the machine's time, so a recording gives the same answer
on every machine. No utterance is cut while somebody speaks, and a result that turns out to be unfinished is thrown
away and decoded again with what follows: the driver may pause inside a reading. An utterance is decoded early in the
silence that will end it, and again where somebody speaks on or may do so unnoticed. Where one was given that may go
on, what comes soon after it is decoded together with it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from assistant.ears.activity import Activity
from assistant.ears.decoding import Decoder, Path, Samples, Utterance
from assistant.ears.ending import WHOLE_AFTER, Wait

STEP = 800  # 50 ms: the decoder itself steps in 240 ms, so less gains nothing

SETTLED = 6_400  # a text that has changed within 400 ms and is not whole goes on: the voice may be weaker than it seems
AHEAD = 2_400  # after 150 ms of silence what was said is decoded, so that the answer to it is ready at the end
CLEAR_DB = 26.0
"""So far above the noise no voice goes on unnoticed: of 250 second words ("ninety, two") by all voices of
tests/bench/hearing_speech the weakest but one was 17 dB below the loudest sound of the first, and 6 dB are noticed."""
HIDDEN_DB = 20.0
"""Less far above the noise a voice may be hidden in what seems a silence. It is waited longer there, ..."""
HIDDEN_AFTER = 9_600  # ... at least 600 ms, and the decoder has to have heard nothing for half of the time
IDLE = 48_000  # after 3 s without speech the decoder starts afresh ...
KEPT_BEFORE = 8_000  # ... with the last half second, in which a word may have begun
JOINED_WITHIN = 12_000  # voice up to 0.75 s after an utterance was given may go on with it


class Utterances:
    """Feed it the sound in order; it gives utterances. `at` is the number of the next sample to be decoded.

    `wait(text)`: the samples of silence that end an utterance with this text. `ahead` gets what may be the utterance
    while its last silence is still going on, and gives the text to wait by; the end of it, or more speech, is still to
    come. `silence_after(at)`: how many samples after `at` are known to be silent, though a treatment has not let them
    through yet. `joins(text)`: whether voice that comes soon after an utterance with this text may go on with it.
    """

    def __init__(
        self,
        new_decoder: Callable[[], Decoder],
        wait: Wait,
        ahead: Callable[[Utterance], str] = lambda utterance: utterance.paths[0].text,
        silence_after: Callable[[int], int] = lambda _: 0,
        joins: Callable[[str], bool] = lambda _: False,
    ) -> None:
        self.at = 0
        self._new_decoder = new_decoder
        self._wait = wait
        self._ahead = ahead
        self._silence_after = silence_after
        self._joins = joins
        self._before: Utterance | None = None  # the last one, if it may go on
        self._activity = Activity()
        self._waiting: Samples = np.zeros(0, np.int16)
        self._begin(np.zeros(0, np.int16))

    @property
    def partial(self) -> str:
        return self._text

    def feed(self, sound: Samples) -> list[Utterance]:
        """The next samples, any number of them."""
        waiting = np.concatenate([self._waiting, sound])
        whole = len(waiting) // STEP * STEP
        self._waiting = waiting[whole:]
        found = (self._step(waiting[at : at + STEP]) for at in range(0, whole, STEP))
        return [utterance for utterance in found if utterance]

    def finish(self) -> list[Utterance]:
        """The sound ends here: what was being said is given as it is."""
        found = []
        if rest := len(self._waiting):
            found = self.feed(np.zeros(STEP - rest, np.int16))
            self.at -= STEP - rest
        if self._heard_voice() or self._text:
            paths = self._decoder.final() if self._held is None else self._held
            found += [last for last in [self._utterance(paths)] if last]
        self._begin(np.zeros(0, np.int16))
        return found

    def without_given(self, utterance: Utterance) -> Utterance | None:
        """What was said after that which was given before, by itself."""
        sound = utterance.sound[utterance.given :]
        decoder = self._new_decoder()
        decoder.accept(sound)
        paths = decoder.final()
        return Utterance(utterance.start + utterance.given, paths, sound, utterance.loud) if paths else None

    def skip(self, samples: int) -> None:
        """Samples that never came; call `finish` first."""
        self.at += samples
        self._begin(np.zeros(0, np.int16))

    def _begin(self, sound: Samples, given: int = 0) -> None:
        """Listen for an utterance that may have begun in `sound`, the last samples before the next one; `given`: how
        many of them are those of the utterance before."""
        self._start = self.at - len(sound)
        self._given = given
        self._text, self._changed = "", self.at
        self._found = 0  # what the full decode in this silence said to wait for
        self._looked: tuple[str, str] | None = None  # what the look ahead in this silence has found, and what it means
        self._decode_anew(sound)

    def _decode_anew(self, sound: Samples) -> None:
        self._decoder = self._new_decoder()
        self._sound = [sound]
        self._held: tuple[Path, ...] | None = None  # what was found in this silence, where only speech changes it
        if len(sound):
            self._decoder.accept(sound)

    def _heard_voice(self) -> bool:
        return self._activity.loud_until is not None

    def _step(self, block: Samples) -> Utterance | None:
        self._activity.feed(block)
        self._sound.append(block)
        self.at += len(block)
        if self._held is None and self._decode(block):
            return self._end(self._decoder.final())
        if self._heard_voice():
            self._join()
            return self._after_silence(self._activity.quiet_for())
        if not self._text and self.at - self._start >= IDLE:
            self._begin(np.concatenate(self._sound)[-KEPT_BEFORE:])
        return None

    def _decode(self, block: Samples) -> bool:
        """Whether the decoder itself takes the utterance as ended."""
        ended = self._decoder.accept(block)
        text = self._decoder.partial()
        if text != self._text:
            late = self._looked is not None and text == self._looked[0]  # it was looked at before the partial had it
            self._text, self._changed, self._found = text, self._changed if late else self.at, 0
        return ended

    def _after_silence(self, quiet: int) -> Utterance | None:
        """The end, if it has been quiet for long enough. The text so far lags behind the sound, so the full decode has
        the last word; if that is to go on, it is thrown away."""
        if quiet < STEP:
            self._speaks_on()
            return None
        quiet += self._silence_after(self.at)
        if self._looked is None and quiet >= AHEAD:
            self._look_ahead()
        _, meant = self._looked or ("", "")
        if self._held is not None:
            return self._end(self._held) if quiet >= self._wait(meant) else None
        wait = max(self._patience(meant or self._text), self._found)
        if quiet < wait or (wait > WHOLE_AFTER and self.at - self._changed < SETTLED):
            return None
        paths = self._decoder.final()
        found = self._patience(self._meant(paths[0].text)) if paths else 0
        if paths and self._may_hide_voice():
            unheard = self.at - self._start - paths[0].words[-1].end
            found = max(found, quiet + found // 2 - unheard)
        if quiet >= found:
            return self._end(paths)
        self._again()
        self._found = found
        return None

    def _patience(self, text: str) -> int:
        """The samples of silence to wait after this text in this noise."""
        return max(self._wait(text), HIDDEN_AFTER if self._may_hide_voice() else 0)

    def _may_hide_voice(self) -> bool:
        return self._activity.stands_out_db() < HIDDEN_DB

    def _speaks_on(self) -> None:
        if self._held is not None:
            self._again()
        self._found, self._looked = 0, None

    def _again(self) -> None:
        """Decode all of it again, with what follows; what was found in this silence is still known."""
        self._decode_anew(np.concatenate(self._sound))
        self._text = self._decoder.partial()

    def _join(self) -> None:
        """Voice soon after an utterance that may go on: both are decoded together."""
        before, self._before = self._before, None
        if before is not None and self.at - before.start - len(before.sound) <= JOINED_WITHIN:
            self._begin(np.concatenate([before.sound, *self._sound]), len(before.sound))

    def _look_ahead(self) -> None:
        """Once in a silence. What may go on in noise is decoded again at once: what is too weak to be noticed as voice
        may yet be heard by the decoder."""
        paths = self._decoder.final()
        utterance = self._utterance(paths)
        self._looked = (paths[0].text, self._ahead(utterance)) if utterance else ("", "")
        clear = self._activity.stands_out_db() >= CLEAR_DB
        if utterance and (clear or self._patience(self._looked[1]) <= WHOLE_AFTER):
            self._held, self._text = paths, paths[0].text
        else:
            self._again()

    def _meant(self, text: str) -> str:
        """The text to wait by where the decoder's is this one."""
        return self._looked[1] if self._looked and self._looked[0] == text else text

    def _end(self, paths: tuple[Path, ...]) -> Utterance | None:
        utterance = self._utterance(paths)
        goes_on = utterance is not None and not utterance.given and self._joins(self._meant(paths[0].text))
        self._before = utterance if goes_on else None
        self._activity.forget()
        self._begin(np.zeros(0, np.int16))
        return utterance

    def _utterance(self, paths: tuple[Path, ...]) -> Utterance | None:
        if not paths:
            return None
        sound = np.concatenate(self._sound)
        return Utterance(self._start, paths, sound, self._activity.loud_samples, self._given)
