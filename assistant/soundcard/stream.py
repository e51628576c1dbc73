"""A stream that is kept open: it notices its own death, says so once, and opens itself again.

Law: sounddevice reports a lost device by silence, not by an exception. So a stream is dead when it ended without being
asked to, or when no callback came for a second of rounds (rounds, not clock time: a machine that was suspended or
busy for a minute has not lost its device). `lost` and `back` are called on the keeper's own thread, in turn.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.core.trouble import Missing
from assistant.soundcard.devices import PLAIN_NAME, Direction
from assistant.soundcard.portaudio import SoundCard, Wish

Samples = NDArray[np.int16]

ROUND_S = 0.1
DEAD_AFTER_ROUNDS = 10
FIRST_CALLBACK_ROUNDS = 30  # a wireless device may take its time to begin
WAITS_S = (0.5, 1.0, 2.0)
MOST_DELAY_S = 2.0  # a time stamp further away than this is a driver's mistake


def say_nothing(*_: object) -> None:
    """For a caller who does not want to be told."""


class KeptStream:
    """One input or output stream of `card`, from `open` to `close`.

    `serve(samples, moment, slipped)` is called on the audio thread with samples of shape (frames, channels), to read
    (input) or to fill (output); it must be quick and take no lock. `moment`: when the first sample was captured, or
    will leave the loudspeaker, in seconds of time.monotonic(). `slipped`: the driver lost samples, or ran out of them.
    `ready(rate, channels)` is called before the first of them. `lost(reason)` and `back()`: the device went, or came.
    """

    def __init__(
        self,
        card: SoundCard,
        direction: Direction,
        device: str | None,
        rate: int,
        serve: Callable[[Samples, float, bool], None],
        ready: Callable[[int, int], None],
        lost: Callable[[str], None] = say_nothing,
        back: Callable[[], None] = say_nothing,
        *,
        block_s: float,
    ) -> None:
        self._card = card
        self._direction: Direction = direction
        self._device = device
        self._rate = rate
        self._serve = serve
        self._ready = ready
        self._lost = lost
        self._back = back
        self._block_s = block_s
        self._life: _Life | None = None
        self._closing = threading.Event()
        self._keeper = threading.Thread(target=self._keep, name=f"{PLAIN_NAME[direction]} keeper", daemon=True)

    @property
    def is_open(self) -> bool:
        return self._life is not None

    def open(self) -> None:
        """Opens the device, and from now on keeps it open.

        Raises Missing when it can't be opened now; it is then tried again every two seconds until `close`, and `back`
        is called when that worked (except when PortAudio is not installed: then nothing is tried again).
        """
        try:
            self._life = self._begin()
        finally:
            if not self._card.can_never_work:
                self._keeper.start()

    def close(self) -> None:
        """Ends the stream; what it still holds is dropped. Takes a few seconds at most, even on a frozen device."""
        self._closing.set()
        if self._keeper.is_alive():
            life = self._life
            if life is not None:
                life.stirred.set()
            self._keeper.join(10.0)
        self._drop(self._retire())

    def _begin(self) -> _Life:
        life = _Life(self._direction, self._serve, self._ready)
        life.opened = self._card.open(
            Wish(
                direction=self._direction,
                device=self._device,
                rate=self._rate,
                block_s=self._block_s,
                serve=life.callback,
                ready=life.begin,
                finished=life.finish,
            )
        )
        return life

    def _retire(self) -> _Life | None:
        life, self._life = self._life, None
        if life is not None:
            life.serve = None
        return life

    def _drop(self, life: _Life | None) -> None:
        if life is not None:
            self._card.close(life.opened)

    def _keep(self) -> None:
        while not self._closing.is_set():
            life = self._life
            if life is None:
                self._open_again()
                continue
            life.stirred.wait(ROUND_S)
            fault = life.fault()
            if fault is not None and not self._closing.is_set():
                self._retire()
                self._lost(f"The {PLAIN_NAME[self._direction]} was lost: {fault}.")
                self._drop(life)  # after the news, for it may hang until its limit

    def _open_again(self) -> None:
        tries = 0
        while not self._closing.wait(WAITS_S[min(tries, len(WAITS_S) - 1)]):
            tries += 1
            self._card.look_again()
            try:
                self._life = self._begin()
            except Missing:
                continue
            if not self._closing.is_set():
                self._back()
            return


class _Life:
    """One opening of the device. `serve` None: it is over, and a late callback is served silence."""

    def __init__(
        self,
        direction: Direction,
        serve: Callable[[Samples, float, bool], None],
        ready: Callable[[int, int], None],
    ) -> None:
        self.opened: Any = None
        self.serve: Callable[[Samples, float, bool], None] | None = serve
        self.stirred = threading.Event()
        self._direction = direction
        self._ready = ready
        self._rate = 0
        self._callbacks = 0
        self._seen = 0
        self._idle_rounds = 0
        self._ended = False
        self._error: str | None = None

    def begin(self, rate: int, channels: int) -> None:
        self._rate = rate
        self._ready(rate, channels)

    def callback(self, samples: Samples, frames: int, stamps: Any, flags: Any) -> None:
        """sounddevice's callback: an exception in it would be printed and the stream would end unseen."""
        now = time.monotonic()
        self._callbacks += 1
        serve = self.serve
        try:
            if serve is None:
                raise RuntimeError("this stream is over")
            if self._direction == "input":
                age = _within(stamps.currentTime - stamps.inputBufferAdcTime, frames / self._rate)
                serve(samples, now - age, bool(flags.input_overflow))
            else:
                delay = _within(stamps.outputBufferDacTime - stamps.currentTime, 0.0)
                serve(samples, now + delay, bool(flags.output_underflow))
        except Exception as error:
            self._error = f"{type(error).__name__}: {error}"
            if self._direction == "output":
                samples.fill(0)

    def finish(self) -> None:
        self._ended = True
        self.stirred.set()

    def fault(self) -> str | None:
        """Why this opening is dead; None while it lives. To be asked once a round."""
        if self._error is not None:
            return f"its samples could not be handled ({self._error})"
        if self._ended:
            return "the device or its sound server went away"
        self._idle_rounds = 0 if self._callbacks != self._seen else self._idle_rounds + 1
        self._seen = self._callbacks
        if self._idle_rounds >= (DEAD_AFTER_ROUNDS if self._seen else FIRST_CALLBACK_ROUNDS):
            return "nothing came from it for a second"
        return None


def _within(seconds: float, least: float) -> float:
    """A driver's delay, or the least it can be where the driver's stamps make no sense."""
    return seconds if least <= seconds <= MOST_DELAY_S else least
