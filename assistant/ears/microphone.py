"""The microphone: numbered blocks of 50 ms, 16 kHz, one channel, into a queue that is never full.

Law: the number of a sample is its time, 16000 to the second since the first one, also across a gap: what a gap
swallowed is skipped in the count, and the block behind it says so. While `muted`, and for 250 ms of captured sound
after it, the ears get zeros of the same length: the recogniser's clock goes on and the assistant never hears itself.
"""

from __future__ import annotations

import math
import queue
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.soundcard.portaudio import SoundCard
from assistant.soundcard.stream import KeptStream, say_nothing

Samples = NDArray[np.int16]

RATE_HZ = 16_000
BLOCK = 800  # 50 ms: shorter gains nothing, the recogniser steps in longer ones; longer answers later
HANGOVER_S = 0.25  # covers the loudspeaker's delay and the echo of a cab
STEADY_S = 0.005  # time stamps tremble by less than this
SLEW_S = 0.0002  # a block: follows a device's clock that is off by up to 0.4 %, and shrugs off a stray time stamp


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """`samples`: 800 of them (fewer just before a gap). `first`: the number of the first one; `captured_at`: its moment
    in seconds of time.monotonic(). `gap`: samples were lost before it. `raw`: what the microphone picked up, also
    while it was muted."""

    samples: Samples
    first: int
    captured_at: float
    gap: bool
    raw: Samples


class Microphone:
    """The microphone `device` (a name or a part of it, None: the default one) of `card`.

    `blocks` is to be emptied by one thread; `muted` may be set from any. `lost` and `back` are called on the keeper's
    thread (see KeptStream). `gaps` counts where samples were lost, the loss of a device included; `deepest` is the
    largest number of blocks that ever waited.
    """

    def __init__(
        self,
        card: SoundCard,
        device: str | None = None,
        lost: Callable[[str], None] = say_nothing,
        back: Callable[[], None] = say_nothing,
    ) -> None:
        self._stream = KeptStream(
            card, "input", device, RATE_HZ, self.take, self.begin, lost, back, block_s=BLOCK / RATE_HZ
        )
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        self.gaps = 0
        self.deepest = 0
        self._muted = False
        self._heard_from = 0.0  # sound captured before this moment is not for the ears
        self._resampler: soxr.ResampleStream | None = None
        self._rate = RATE_HZ
        self._origin: float | None = None  # when sample 0 was captured
        self._taken = 0.0  # how many samples, counted at 16 kHz, came from the device so far
        self._rest = np.zeros(0, np.int16)
        self._next = 0  # the number of the first sample of _rest
        self._gap = False

    def open(self) -> None:
        """Raises Missing when there is no microphone now; see KeptStream.open for what happens then."""
        self._stream.open()

    def close(self) -> None:
        """Gives the device back; the blocks in the queue stay."""
        self._stream.close()

    @property
    def is_open(self) -> bool:
        return self._stream.is_open

    @property
    def muted(self) -> bool:
        """True while zeros are delivered on purpose, the 250 ms after it not counted."""
        return self._muted

    @muted.setter
    def muted(self, muted: bool) -> None:
        if self._muted and not muted:
            self._heard_from = time.monotonic() + HANGOVER_S
        self._muted = muted

    # --- on the audio thread ---

    def begin(self, rate: int, channels: int) -> None:
        """The device was opened with this rate in Hz and this number of channels; what it held before is gone."""
        del channels  # take sees them in the shape of its samples
        self._rate = rate
        self._gap = self._origin is not None
        self._start_afresh()

    def take(self, samples: Samples, captured_at: float, overflow: bool) -> None:
        """Samples of shape (frames, channels), the first of them captured at `captured_at` (time.monotonic());
        `overflow`: some were lost before or in them."""
        mono = samples[:, 0].copy() if samples.shape[1] == 1 else samples.mean(axis=1).astype(np.int16)
        self._follow_clock(captured_at, overflow)
        self._taken += len(mono) * RATE_HZ / self._rate
        if self._resampler is not None:
            mono = self._resampler.resample_chunk(mono)
        self._rest = np.concatenate([self._rest, mono])
        while len(self._rest) >= BLOCK:
            self._put(self._rest[:BLOCK])

    def _follow_clock(self, captured_at: float, overflow: bool) -> None:
        if self._origin is None:
            self._origin = captured_at
        if overflow or self._gap:
            self._step_over(captured_at)
        else:
            off = captured_at - self._taken / RATE_HZ - self._origin
            self._origin += min(SLEW_S, max(-SLEW_S, off))

    def _step_over(self, captured_at: float) -> None:
        """Behind a gap: what came before it goes out, and the count goes on to the time stamp, never backwards."""
        if len(self._rest):
            self._put(self._rest)
        now = round((captured_at - self._moment(0)) * RATE_HZ)
        if now - self._next > STEADY_S * RATE_HZ:
            self._next = now
        self._taken = self._next
        self._start_afresh()
        self._gap = True

    def _start_afresh(self) -> None:
        self._resampler = None
        if self._rate != RATE_HZ:
            self._resampler = soxr.ResampleStream(self._rate, RATE_HZ, 1, dtype="int16")

    def _moment(self, number: int) -> float:
        """When this sample was captured, in seconds of time.monotonic()."""
        assert self._origin is not None  # a sample was taken
        return self._origin + number / RATE_HZ

    def _put(self, samples: Samples) -> None:
        """Sends the first samples of _rest off."""
        captured_at = self._moment(self._next)
        self.gaps += self._gap
        gated = self._gated(samples, captured_at)
        self.blocks.put(Block(gated, self._next, captured_at, self._gap, samples))
        self.deepest = max(self.deepest, self.blocks.qsize())
        self._gap = False
        self._rest = self._rest[len(samples) :]
        self._next += len(samples)

    def _gated(self, samples: Samples, captured_at: float) -> Samples:
        deaf = len(samples) if self._muted else math.ceil((self._heard_from - captured_at) * RATE_HZ)
        if deaf <= 0:
            return samples
        gated = samples.copy()
        gated[:deaf] = 0
        return gated
