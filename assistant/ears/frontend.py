"""The sound before the recogniser: steady tones taken out, noise gently turned down.

Law: it may only help. Each part is here because it was measured to help in noise and to harm nothing in quiet (see
tests/bench/hearing); high-pass filters, level control and strong noise removal were measured and do harm. What comes
out is aligned with what went in: sample n is sample n, it only comes later.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]
Real = NDArray[np.float64]
Gain = Callable[[Real], Real]
"""Magnitudes of a spectrum to a factor for each bin."""

RATE_HZ = 16_000
HOP = 256  # samples from window to window
HELD_BACK = 1024  # samples, at least, that have gone in and have not come out
_MUTED = 1e-6  # magnitudes of a microphone that is switched off: no noise to learn from


class FrontEnd:
    """Feed it 16 kHz mono sound in blocks of any size. It holds back the last 96 ms, until `flush`."""

    def __init__(self) -> None:
        self._stages = (_Overlap(1024, _Tones(1024)), _Overlap(512, _Noise(512)))

    def process(self, block: Samples) -> Samples:
        """The next samples in, those that are ready out."""
        sound = block.astype(np.float64) / 32768
        for stage in self._stages:
            sound = stage.process(sound)
        return _to_int16(sound)

    def flush(self) -> Samples:
        """What was held back, with silence taken as following it; what was learnt about the noise is kept."""
        sound: Real = np.zeros(0)
        for stage in self._stages:
            sound = np.concatenate([stage.process(sound), stage.flush()])
        return _to_int16(sound)


class _Overlap:
    """A gain for each bin of a running spectrum: square-root Hann windows of `size` samples every 256, put together
    again by overlap-add. The delay of the window is cut off at the beginning."""

    def __init__(self, size: int, gain: Gain) -> None:
        self._size, self._gain = size, gain
        self._window = np.sqrt(np.hanning(size + 1)[:-1])
        self._scale = 1 / (np.square(self._window).sum() / HOP)
        self._reset()

    def _reset(self) -> None:
        self._held: Real = np.zeros(self._size - HOP)
        self._sum: Real = np.zeros(self._size)
        self._to_cut = self._size - HOP
        self._owed = 0

    def process(self, sound: Real) -> Real:
        self._owed += len(sound)
        held = np.concatenate([self._held, sound])
        count = max(0, (len(held) - self._size) // HOP + 1)
        done = [self._frame(held[at * HOP : at * HOP + self._size]) for at in range(count)]
        self._held = held[count * HOP :]
        out = np.concatenate(done) if done else np.zeros(0)
        cut = min(self._to_cut, len(out))
        self._to_cut -= cut
        self._owed -= len(out) - cut
        return out[cut:]

    def flush(self) -> Real:
        """All that is still owed for the samples that came in."""
        owed = self._owed
        rest = self.process(np.zeros(self._size + HOP))[:owed]
        self._reset()
        return rest

    def _frame(self, sound: Real) -> Real:
        spectrum = np.fft.rfft(sound * self._window)
        self._sum += np.fft.irfft(spectrum * self._gain(np.abs(spectrum)), self._size) * self._window * self._scale
        ready, self._sum = self._sum[:HOP].copy(), np.concatenate([self._sum[HOP:], np.zeros(HOP)])
        return ready


class _History:
    """The last magnitudes or powers of each bin, and the values that given shares of them lie below."""

    def __init__(self, size: int, seconds: float, *shares: float) -> None:
        self._kept = np.zeros((int(seconds * RATE_HZ / HOP), size // 2 + 1))
        self._shares = shares
        self.count = 0

    def add(self, row: Real) -> None:
        self._kept[self.count % len(self._kept)] = row
        self.count += 1

    def quantiles(self) -> list[Real]:
        known = self._kept[: min(self.count, len(self._kept))]
        places = [int(len(known) * share) for share in self._shares]
        ordered = np.sort(known, axis=0)  # several times faster than np.partition
        return [ordered[place] for place in places]


class _Tones:
    """Pulls narrow tones (a buzzer) down to their neighbourhood: bins that stood out for a fifth of the last 1.5 s and
    were hardly ever louder than that.

    A buzzer, also one in beats, comes back to its pitch and its level; a voice in monotone keeps its pitch, but not its
    level (without that second test some voices lost up to 9 dB).
    """

    _USUAL, _HIGHEST, _SECONDS = 0.8, 0.95, 1.5
    _OUT_DB, _STEADY_DB = 10.0, 2.5
    _NEAR, _FAR = 4, 12  # bins: beyond the width of a tone, near enough to be its neighbourhood
    _KNOWN_AFTER, _EVERY = 20, 8  # windows

    def __init__(self, size: int) -> None:
        bins = size // 2 + 1
        steps = np.arange(self._NEAR, self._FAR + 1)
        self._around = np.clip(np.arange(bins)[:, None] + np.concatenate([-steps, steps]), 0, bins - 1)
        self._history = _History(size, self._SECONDS, self._USUAL, self._HIGHEST)
        self._found: NDArray[np.intp] = np.zeros(0, np.intp)

    def __call__(self, magnitude: Real) -> Real:
        if magnitude.max() < _MUTED:
            return np.ones(len(magnitude))
        self._history.add(magnitude)
        if self._history.count >= self._KNOWN_AFTER and self._history.count % self._EVERY == 0:
            usual, highest = self._history.quantiles()
            out = usual > np.median(usual[self._around], axis=1) * _factor(self._OUT_DB)
            self._found = np.flatnonzero(out & (highest < usual * _factor(self._STEADY_DB)))
        gain = np.ones(len(magnitude))
        if len(self._found):
            neighbours = np.median(magnitude[self._around[self._found]], axis=1)
            gain[self._found] = np.minimum(1.0, neighbours / (magnitude[self._found] + 1e-12))
        return gain


def _factor(db: float) -> float:
    return float(10 ** (db / 20))


class _Noise:
    """A gentle Wiener gain with the decision-directed estimate of Ephraim and Malah (1984): never below 0.4, because
    what it takes from the voice costs more than what it leaves of the noise. The noise is the level that each bin
    falls to in a fifth of the last two seconds."""

    _SHARE, _SECONDS, _LEAST, _TRUST, _SMOOTH = 0.2, 2.0, 0.4, 0.96, 0.5
    _EVERY = 8  # windows

    def __init__(self, size: int) -> None:
        self._history = _History(size, self._SECONDS, self._SHARE)
        self._smooth: Real = np.zeros(size // 2 + 1)
        self._noise: Real = np.zeros(size // 2 + 1)
        self._before: Real = np.zeros(size // 2 + 1)

    def __call__(self, magnitude: Real) -> Real:
        if magnitude.max() < _MUTED:
            return np.ones(len(magnitude))
        power = np.square(magnitude)
        known = self._history.count > 0
        self._smooth = self._SMOOTH * self._smooth + (1 - self._SMOOTH) * power if known else power
        self._history.add(self._smooth)
        if not known or self._history.count % self._EVERY == 0:
            (usual,) = self._history.quantiles()
            self._noise = usual + 1e-9
        new = np.maximum(power / self._noise - 1, 0)
        ratio = self._TRUST * self._before / self._noise + (1 - self._TRUST) * new
        wiener = ratio / (1 + ratio)
        self._before = np.square(wiener) * power
        return np.maximum(wiener, self._LEAST)


def _to_int16(sound: Real) -> Samples:
    return np.clip(np.round(sound * 32768), -32768, 32767).astype(np.int16)
