"""How loud an utterance was, and how far above the noise around it: evidence for the decision to ask again.

Law: measured on the sound as it came in, and once more on what the front end has made of it, there with the high
frequencies raised, so that a hiss weighs more than the rumble of an engine, as it harms more. Levels are dB of full
scale; the level of the speech is taken over its active parts only (after the idea of ITU-T P.56) and without the noise
under it.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assistant.ears.emphasis import Emphasis

RATE_HZ = 16_000
FRAME = 320  # 20 ms
_KEPT_FRAMES = 1_500  # 30 s: longer than the longest utterance with its surroundings
_AROUND = 4 * RATE_HZ  # the noise is looked for this long before the words
_EDGE = 1_600  # 100 ms around the words belong to neither
_ENOUGH_FRAMES = 10
_UTTERANCES = 8  # as many as can lie within that time
_ACTIVE_DB = 15.9  # P.56: what is this far below the active level is a pause
_FULL = 32_700 / 32_768
_FULL_SAMPLES = 3  # in one frame: a single one is the tip of a wave that just fits


class Loud(NamedTuple):
    """Levels in dB, None where they can't be told. `clipped`: the share of the frames with voice that were cut off at
    the limit of 16 bits."""

    speech_db: float | None = None
    snr_db: float | None = None
    clipped: float = 0.0


class Loudness:
    """Remembers the power of the last half minute, frame by frame. `raised`: with the high frequencies raised."""

    def __init__(self, *, raised: bool = False) -> None:
        self._scaled = Emphasis() if raised else Emphasis(0.0)
        self._powers: deque[float] = deque(maxlen=_KEPT_FRAMES)
        self._full: deque[bool] = deque(maxlen=_KEPT_FRAMES)
        self._left: NDArray[np.float64] = np.zeros(0)
        self._next = 0  # the sample that the next frame begins with
        self._earlier: deque[tuple[int, int]] = deque(maxlen=_UTTERANCES)

    def feed(self, sound: NDArray[np.int16]) -> None:
        """The next samples."""
        self._left = np.concatenate([self._left, self._scaled(sound)])
        count = len(self._left) // FRAME
        frames, self._left = self._left[: count * FRAME].reshape(count, FRAME), self._left[count * FRAME :]
        self._powers.extend(np.square(frames).mean(axis=1))
        self._full.extend((np.abs(frames) >= _FULL).sum(axis=1) >= _FULL_SAMPLES)
        self._next += count * FRAME

    def skip(self, samples: int) -> None:
        """Samples that never came: what was remembered is of another time."""
        self._powers.clear()
        self._full.clear()
        self._next += len(self._left) + samples
        self._left = np.zeros(0)

    def of(self, spans: list[tuple[int, int]]) -> Loud:
        """How loud the words at these samples were. To be asked in the order in which they were spoken: a microphone
        that is silent between two utterances leaves nothing but the earlier one to be taken for noise."""
        powers = np.array(self._powers)
        starts = self._next - FRAME * np.arange(len(powers), 0, -1)
        spoken = np.zeros(len(powers), bool)
        near = np.zeros(len(powers), bool)
        for start, end in spans:
            spoken |= (starts >= start) & (starts + FRAME <= end)
        for start, end in (*spans, *self._earlier):
            near |= (starts + FRAME > start - _EDGE) & (starts < end + _EDGE)
        self._earlier.append((spans[0][0], spans[-1][1]))
        if not spoken.any():
            return Loud()
        around = powers[~near & (starts >= spans[0][0] - _AROUND) & (powers > 0)]
        noise = float(np.median(around)) if len(around) >= _ENOUGH_FRAMES else None
        loud = _active(powers[spoken])
        speech = max(loud - (noise or 0.0), loud / 100)
        clipped = float(np.array(self._full)[spoken].mean())
        return Loud(_db(speech), _db(speech) - _db(noise) if noise else None, clipped)


def _active(powers: NDArray[np.float64]) -> float:
    """Mean power of the frames that are no pauses."""
    level = float(powers.mean())
    for _ in range(10):
        level = float(powers[powers >= level / 10 ** (_ACTIVE_DB / 10)].mean())
    return level


def _db(power: float) -> float:
    return 10 * float(np.log10(power + 1e-12))
