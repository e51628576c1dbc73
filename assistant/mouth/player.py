"""The player: sounds to the loudspeaker, one after the other, each with the moment at which it had been heard.

Law: the output is always open and runs on silence, so a sound starts within one small block and can be cut within
one. Every sound that was given is told of exactly once: at the moment its last sample has left the loudspeaker, or as
cut. Where there is no device a sound is told of as cut at once, so nobody waits for ever.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from assistant.mouth.sound import Samples, Sound
from assistant.soundcard.portaudio import SoundCard
from assistant.soundcard.stream import KeptStream, say_nothing

RATE_HZ = 22050  # what the speech engines deliver
BLOCK_S = 0.01  # half the processor time of the shortest blocks and fewer crackles, for 25 ms more delay
FADE_S = 0.005  # a cut that takes 5 ms does not click


@dataclass(frozen=True)
class Played:
    """When a sound was at the loudspeaker: `began` and `ended` in seconds of time.monotonic(). `began` is None when
    nothing of it was heard. `cut`: the end of it was not heard."""

    began: float | None
    ended: float
    cut: bool


@dataclass(eq=False)
class _Item:
    number: int
    samples: Samples
    rate: int
    then: Callable[[Played], None]
    at: int = 0
    began: float | None = None
    fading: bool = False


class Player:
    """The loudspeaker `device` (a name or a part of it, None: the default one) of `card`.

    `play` and `cut` may be called from any one thread; they return at once. `then` is called on the player's own
    thread, in the order of the sounds; `lost` and `back` on the keeper's (see KeptStream). None of them may raise, or
    call `close`.
    """

    def __init__(
        self,
        card: SoundCard,
        device: str | None = None,
        lost: Callable[[str], None] = say_nothing,
        back: Callable[[], None] = say_nothing,
    ) -> None:
        self._lost = lost
        self._stream = KeptStream(
            card, "output", device, RATE_HZ, self._serve, self._ready, self._on_lost, back, block_s=BLOCK_S
        )
        self._rate = RATE_HZ
        self._last_number = 0
        self._told = 0
        self._cut_through = 0  # every sound up to this number is to stop
        self._untold: dict[int, _Item] = {}
        self._waiting: deque[_Item] = deque()
        self._current: _Item | None = None  # this and the items' `at` belong to the audio thread
        self._ended: queue.SimpleQueue[tuple[_Item, Played] | None] = queue.SimpleQueue()
        self._teller = threading.Thread(target=self._tell, name="player", daemon=True)
        self._teller.start()
        self.underflows = 0

    def open(self) -> None:
        """Raises Missing when there is no loudspeaker now; see KeptStream.open for what happens then."""
        self._stream.open()

    def close(self) -> None:
        """Cuts everything and gives the device back."""
        self._stream.close()
        self._settle_all()
        self._ended.put(None)
        self._teller.join(1.0)

    @property
    def is_open(self) -> bool:
        return self._stream.is_open

    @property
    def playing(self) -> bool:
        """A sound that was given has not been told of yet."""
        return self._told < self._last_number

    def play(self, sound: Sound, then: Callable[[Played], None] = say_nothing) -> None:
        """Plays `sound` after those given before it."""
        samples = sound.at_rate(self._rate).samples
        self._last_number += 1
        item = _Item(self._last_number, samples, self._rate, then)
        self._untold[item.number] = item
        self._waiting.append(item)
        if not self.is_open:  # asked last: a device that goes now settles what it finds
            self._settle_all()

    def cut(self) -> None:
        """Silence within a few milliseconds of the device's own delay; drops the sounds that wait, too."""
        self._cut_through = self._last_number

    # --- on the audio thread ---

    def _ready(self, rate: int, channels: int) -> None:
        del channels  # _serve fills as many as the block has
        self._rate = rate
        self._current = None  # a device that was lost took it along

    def _serve(self, block: Samples, moment: float, slipped: bool) -> None:
        self.underflows += slipped
        block.fill(0)
        filled = 0
        while filled < len(block):
            item = self._next()
            if item is None:
                return
            if item.number <= self._cut_through and not item.fading:
                self._fade(item)
            part = item.samples[item.at : item.at + len(block) - filled]
            block[filled : filled + len(part)] = part[:, np.newaxis]
            if len(part) and item.began is None:
                item.began = moment + filled / self._rate
            item.at += len(part)
            filled += len(part)
            if item.at >= len(item.samples):
                self._current = None
                self._settle(item, moment + filled / self._rate, cut=item.fading)

    def _next(self) -> _Item | None:
        """The sound that is to be heard now. One that was cut while it waited, or that was made for the rate of a
        device that is gone, is passed over."""
        while self._current is None:
            try:
                item = self._waiting.popleft()
            except IndexError:
                return None
            if item.number <= self._cut_through or item.rate != self._rate:
                self._settle(item, time.monotonic(), cut=True)
            else:
                self._current = item
        return self._current

    def _fade(self, item: _Item) -> None:
        rest = item.samples[item.at : item.at + round(FADE_S * self._rate)]
        ramp = np.linspace(1.0, 0.0, len(rest), dtype=np.float32)
        item.samples = (rest * ramp).astype(np.int16)
        item.at = 0
        item.fading = True

    # --- telling ---

    def _settle(self, item: _Item, ended: float, cut: bool) -> None:
        if self._untold.pop(item.number, None) is not None:
            self._ended.put((item, Played(item.began, ended, cut)))

    def _settle_all(self) -> None:
        self._cut_through = self._last_number
        self._waiting.clear()
        for item in list(self._untold.values()):
            self._settle(item, time.monotonic(), cut=True)

    def _on_lost(self, reason: str) -> None:
        self._settle_all()
        self._lost(reason)

    def _tell(self) -> None:
        while (told := self._ended.get()) is not None:
            item, played = told
            time.sleep(max(0.0, played.ended - time.monotonic()))
            self._told += 1
            item.then(played)
