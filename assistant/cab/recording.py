"""A recorded driver in the cab: the clock is the count of samples heard so far.

Law: what comes out depends on the sound alone, not on the speed of the machine or the pace it is followed at.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable
from itertools import count
from typing import Protocol

from assistant.cab.pace import Pace
from assistant.core.events import Ended, Event, Said
from assistant.ears.recogniser import Recogniser
from assistant.ears.recording import Recording


class Speaker(Protocol):
    """A loudspeaker."""

    @property
    def speaking(self) -> bool:
        """Whether a line is being heard at this moment."""

    def speak(self, text: str) -> None:
        """Begin to say `text`; return at once."""


class RecordingCab:
    """Plays `recording` into `recogniser`.

    `speaking_ms`: how long a text takes to say, on the clock of the check. `speaker`: says it aloud, if there is one.
    `skipped`: told how many ms were not waited for.
    """

    def __init__(
        self,
        recording: Recording,
        recogniser: Recogniser,
        pace: Pace,
        *,
        speaking_ms: Callable[[str], int],
        speaker: Speaker | None,
        skipped: Callable[[int], None],
    ) -> None:
        self._blocks = recording.blocks()
        self._recogniser = recogniser
        self._pace = pace
        self._speaking_ms = speaking_ms
        self._speaker = speaker
        self._skipped = skipped
        self._fed_ms = 0
        self._over = False
        self._order = count()
        self._waiting: list[tuple[int, int, Event]] = []

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        del holding
        while True:
            first = self._waiting[0][0] if self._waiting else None
            due = min((at for at in (first, until_ms) if at is not None), default=None)
            if due is not None and (self._fed_ms >= due or (self._over and self._waiting)):
                if due != first:
                    return self._reached(due, None)
                at_ms, _, event = heapq.heappop(self._waiting)
                return self._reached(at_ms, event)
            if self._over:
                return self._reached(self._fed_ms, Ended(why="recording over"))
            self._listen()

    def say(self, spoken: str, at_ms: int) -> None:
        if self._speaker is not None:
            self._speaker.speak(spoken)
        self._post(at_ms + self._speaking_ms(spoken), Said(text=spoken))

    def _listen(self) -> None:
        """One more block of sound; an utterance counts as heard when the recogniser has delivered it."""
        block = next(self._blocks, None)
        if block is None:
            self._over = True
            heard = self._recogniser.finish()
        else:
            self._fed_ms += round(1000 * len(block) / 16_000)
            heard = self._recogniser.feed(block)
        for utterance in heard:
            self._post(self._fed_ms, utterance)

    def _post(self, at_ms: int, event: Event) -> None:
        heapq.heappush(self._waiting, (at_ms, next(self._order), event))

    def _hear_out(self) -> None:
        """Let the loudspeaker finish; meanwhile the ears go on ahead."""
        while self._speaker is not None and self._speaker.speaking:
            if self._over:
                time.sleep(0.02)
            else:
                self._listen()

    def _reached(self, at_ms: int, event: Event | None) -> tuple[int, Event] | None:
        if isinstance(event, Said):
            self._hear_out()
        skipped = self._pace.reach(at_ms)
        if skipped:
            self._skipped(skipped)
        return None if event is None else (at_ms, event)
