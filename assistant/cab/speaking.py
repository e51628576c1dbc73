"""The mouth of a live check: a turn of speech to the loudspeaker, sentence by sentence, and the word that it was said.

Law: the microphone is muted from before the first sound until the last word has left; a turn that was given is told of
exactly once. What is missing, a voice or a loudspeaker, is told of once, and the turn counts as shown. Rendering and
playing have a thread of their own, so a voice that hangs never holds up the check.
"""

from __future__ import annotations

import queue
import re
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

import numpy as np

from assistant.core.events import Device, Said
from assistant.ears.microphone import Microphone
from assistant.mouth.earcons import ATTENTION, HEARD, LISTENING, TIME_RUNNING
from assistant.mouth.player import Played, Player
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Silent, Voice

_SENTENCE_ENDS = re.compile(r"(?<=[.?!])\s+")
_RATE_HZ = 22050
_BREATH = Sound(np.zeros(_RATE_HZ // 5, np.int16), _RATE_HZ)  # between two sentences
_END = Sound(np.zeros(0, np.int16), _RATE_HZ)
TONES = {"listening": LISTENING, "heard": HEARD, "time running": TIME_RUNNING, "attention": ATTENTION}


@dataclass(eq=False)
class Turn:
    """What is said at one go. `spoken`: how many of its sentences were heard to their end. `cut`: it was told to stop.
    `aloud`: something of it went to a loudspeaker."""

    sentences: list[str]
    spoken: int = 0
    cut: bool = False
    aloud: bool = False


@dataclass(frozen=True)
class Finished:
    """A turn is over; to be handed back to `Mouth.finished`. `played`: None when nothing went to the loudspeaker."""

    turn: Turn
    played: Played | None


class Mouth:
    """`told` is called, on other threads, with Finished for every turn and with Device when the voice stops or begins
    to work. Everything else is for one thread. `tones`: signals besides words are played."""

    def __init__(
        self,
        voice: Voice,
        player: Player,
        microphone: Microphone,
        told: Callable[[Finished | Device], None],
        *,
        tones: bool = True,
    ) -> None:
        self._voice = voice
        self._player = player
        self._microphone = microphone
        self._told = told
        self._tones = tones
        self.turns: list[Turn] = []
        """Given and not finished."""
        self._voice_works = True
        self._jobs: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._work, name="mouth", daemon=True)
        self._thread.start()

    @property
    def speaking(self) -> bool:
        """A turn is not over yet."""
        return bool(self.turns)

    @property
    def has_voice(self) -> bool:
        """Lines are heard, as far as is known."""
        return self._voice_works

    def say(self, text: str) -> None:
        """Speak after what was given before; return at once."""
        self._begin(Turn([part for part in _SENTENCE_ENDS.split(text.strip()) if part]))

    def prepare(self, texts: Iterable[str]) -> None:
        """Lines that will be said, rendered ahead."""
        self._voice.prepare(part for text in texts for part in _SENTENCE_ENDS.split(text.strip()) if part)

    def tone(self, name: str) -> None:
        """A signal, unless something is being said."""
        if self._tones and not self.turns:
            self._jobs.put(partial(self._player.play, TONES[name]))

    def cut(self) -> None:
        """Silence, at once; each turn is told of as cut."""
        for turn in self.turns:
            turn.cut = True
        self._jobs.put(self._player.cut)

    def finished(self, end: Finished, listen: bool) -> Said:
        """What to note of a turn that is over; the ears open with the last one. `listen`: give the signal for it."""
        self.turns.remove(end.turn)
        if not self.turns:
            self._microphone.muted = False
            if listen and end.turn.aloud and not end.turn.cut:
                self.tone("listening")
        broken = end.turn.aloud and end.played is not None and end.played.cut
        return Said(text=" ".join(end.turn.sentences), cut=broken)

    def close(self) -> None:
        """Nothing is spoken any more."""
        self._jobs.put(self._player.cut)
        self._jobs.put(None)
        self._thread.join(5.0)

    def _begin(self, turn: Turn) -> None:
        self.turns.append(turn)
        self._jobs.put(partial(self._speak, turn))

    # --- on the mouth's thread ---

    def _work(self) -> None:
        while (job := self._jobs.get()) is not None:
            job()

    def _speak(self, turn: Turn) -> None:
        try:
            self._give(turn)
        except Exception as fault:  # a turn that never ended would keep the ears shut for good
            self._voice_is(False, f"The voice stopped ({type(fault).__name__}: {fault}). Lines are only shown.")
        if turn.aloud:
            self._player.play(_END, lambda played: self._told(Finished(turn, played)))
        else:
            self._told(Finished(turn, None))

    def _give(self, turn: Turn) -> None:
        """Render a turn and give it to the player, up to where that is not possible."""
        for number, sentence in enumerate(turn.sentences):
            sound = self._voice.render(sentence) if self._player.is_open and not turn.cut else None
            if isinstance(sound, Silent):
                self._voice_is(False, sound.reason)
            if not isinstance(sound, Sound):
                break
            self._voice_is(True, "")
            turn.aloud = True
            self._microphone.muted = True
            if number:
                self._player.play(_BREATH)
            self._player.play(sound, partial(self._heard_out, turn, number + 1))

    def _voice_is(self, works: bool, reason: str) -> None:
        if works != self._voice_works:
            self._voice_works = works
            self._told(Device(device="voice", state="back" if works else "lost", detail=reason))

    @staticmethod
    def _heard_out(turn: Turn, sentences: int, played: Played) -> None:
        if not played.cut:
            turn.spoken = sentences
