"""The rehearsal of a person who speaks: a real microphone and loudspeaker, and a vehicle that is only simulated.

Law: the cab is the one of a real check. Beside it the vehicle runs in real time on a thread of its own, and its sound
goes to the loudspeaker by a stream of its own, so that neither waits for the other.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soxr

from assistant.cab.live import LiveCab
from assistant.cab.practice import TICK_MS, Practice
from assistant.core.events import Event, Heard
from assistant.core.trouble import Missing, Trouble
from assistant.soundcard.portaudio import SoundCard
from assistant.soundcard.stream import KeptStream, Samples
from assistant.vehicle.noise import RATE, Sound

_BLOCK_S = 0.05


class SpokenPractice:
    """`cab`: is opened and closed by others. `words`: those of an utterance, as an order is written; `ordered`: told of
    an utterance that was nothing but an order. What the practice tells of comes from the vehicle's thread."""

    def __init__(
        self, cab: LiveCab, practice: Practice, words: Callable[[Heard], str], ordered: Callable[[str], None]
    ) -> None:
        self._cab = cab
        self._practice = practice
        self._words, self._ordered = words, ordered
        self._turn = threading.Lock()  # the vehicle is worked from two threads
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="vehicle", daemon=True)

    def start(self, log: Path | None) -> None:
        """The check begins, and with it the vehicle's time. `log`: as for `LiveCab.start`."""
        self._cab.start(0, log)
        self._thread.start()

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        while (arrived := self._cab.next(until_ms, holding)) is not None:
            if not isinstance(arrived[1], Heard) or self._take(arrived[1]):
                return arrived
        return None

    def say(self, spoken: str, at_ms: int) -> None:
        self._cab.say(spoken, at_ms)

    def close(self) -> None:
        """The vehicle stands still from now on."""
        self._over.set()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _take(self, heard: Heard) -> bool:
        words = self._words(heard)
        with self._turn:
            for_the_assistant = self._practice.take(words)
        if not for_the_assistant:
            self._ordered(words)
        return for_the_assistant

    def _run(self) -> None:
        try:
            self._go_on()
        except Exception as fault:  # a vehicle that stood still unseen would leave the trainee talking to nobody
            self._cab.post(
                Trouble(f"The simulated vehicle stopped ({type(fault).__name__}: {fault}). The log is kept.")
            )

    def _go_on(self) -> None:
        while not self._over.is_set():
            time.sleep(max(0.0, self._cab.clock.seconds_until(self._practice.now_ms + TICK_MS)))
            with self._turn:
                gauges = self._practice.tick()
            if gauges is not None:
                self._cab.post(gauges)


class SoundsOfTheCab:
    """A loudspeaker on which a cab is heard. `samples`: gives the next ones at 16 kHz; `loudness`: 0 to 1."""

    def __init__(
        self, samples: Callable[[int], Sound], device: str | None, loudness: float, told: Callable[[str], None]
    ) -> None:
        self._samples = samples
        self._loudness = loudness
        self._told = told
        self._rate = RATE
        self._resampler: soxr.ResampleStream | None = None
        self._left = np.zeros(0, np.float32)
        self._stream = KeptStream(SoundCard(), "output", device, RATE, self._serve, self._ready, block_s=_BLOCK_S)

    def open(self) -> None:
        """Without a loudspeaker it is told, and the cab is silent."""
        try:
            self._stream.open()
        except Missing as trouble:
            self._told(f"The sounds of the cab are not heard. {trouble}")

    def close(self) -> None:
        """Give the device back."""
        self._stream.close()
        self._resampler = None  # it complains when it is alive at the end of the program

    def _ready(self, rate: int, channels: int) -> None:
        del channels
        self._rate = rate
        self._resampler = soxr.ResampleStream(RATE, rate, 1)

    def _serve(self, block: Samples, moment: float, slipped: bool) -> None:
        del moment, slipped
        assert self._resampler is not None
        while len(self._left) < len(block):
            more = self._samples(max(1, len(block) * RATE // self._rate))
            self._left = np.concatenate([self._left, self._resampler.resample_chunk(more)])
        ready, self._left = self._left[: len(block)], self._left[len(block) :]
        block[:] = (ready * (32767 * self._loudness)).astype(np.int16)[:, np.newaxis]
