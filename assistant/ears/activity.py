"""Is somebody speaking, and how loud against what: judged block by block from the levels alone.

Law: everything is counted in samples, nothing in the machine's time, so that a recording gives the same answer on
every machine. The floor follows the noise within seconds and is never learnt from digital silence (a muted microphone).
"""

from __future__ import annotations

from collections import deque
from statistics import median

import numpy as np
from numpy.typing import NDArray

from assistant.ears.emphasis import Emphasis

RATE_HZ = 16_000
FRAME = 320  # 20 ms
_FLOOR_FRAMES = 150  # 3 s: longer than a reading lasts, short enough to follow an engine that speeds up
_FLOOR_SHARE = 0.15
_ABOVE_FLOOR_DB = 6.0
_BELOW_PEAK_DB = 35.0  # what is so much weaker than the voice is its echo or a breath
_FLOOR_LEAST_DB = -75.0  # a microphone that picks up nothing at all
_STEADY_FRAMES = 2  # a click is shorter
_REMEMBERED = 250  # loud frames, 5 s: far more than a treatment delays


class Activity:
    """Feed it the sound; `loud_until` is the sample after the last loud one, None if there was none since `forget`."""

    def __init__(self) -> None:
        self.loud_until: int | None = None
        self.loud_samples = 0
        self._levels: deque[float] = deque(maxlen=_FLOOR_FRAMES)
        self._left: NDArray[np.float64] = np.zeros(0)
        self._raised = Emphasis()  # the rumble has most of the power in a cab and none of the speech
        self._at = 0
        self._peak = -200.0
        self._since: deque[float] = deque(maxlen=_FLOOR_FRAMES)  # levels since the last loud frame
        self._run = 0
        self._loud: deque[int] = deque(maxlen=_REMEMBERED)

    def feed(self, sound: NDArray[np.int16]) -> None:
        """The next samples."""
        self._left = np.concatenate([self._left, self._raised(sound)])
        count = len(self._left) // FRAME
        frames, self._left = self._left[: count * FRAME].reshape(count, FRAME), self._left[count * FRAME :]
        for power in np.square(frames).mean(axis=1):
            self._frame(10 * float(np.log10(power + 1e-20)))

    def quiet_for(self) -> int:
        """Samples since the last loud one (since the beginning, if there was none)."""
        return self._at - (self.loud_until or 0)

    def stands_out_db(self) -> float:
        """How far the loudest sound since `forget` is above what has come since the last loud one: the noise, and
        whatever is hidden in it; where that is digital silence, above the noise of any microphone."""
        return self._peak - (median(self._since) if self._since else _FLOOR_LEAST_DB)

    def quiet_between(self, first: int, end: int) -> bool:
        """Whether no sample of these was loud, as far as is known and remembered."""
        return not any(first < at + FRAME and at < end for at in self._loud)

    def skip(self, samples: int) -> None:
        """Samples that never came."""
        self._at += len(self._left) + samples
        self._left = np.zeros(0)

    def forget(self) -> None:
        """A new utterance begins; what is known of the noise stays."""
        self.loud_until, self.loud_samples, self._peak = None, 0, -200.0

    def _frame(self, level: float) -> None:
        self._at += FRAME
        if level < -150:  # zeros: the microphone is muted
            self._run = 0
            return
        self._levels.append(level)
        floor = max(sorted(self._levels)[int(len(self._levels) * _FLOOR_SHARE)], _FLOOR_LEAST_DB)
        self._peak = max(self._peak, level)
        loud = level > max(floor + _ABOVE_FLOOR_DB, self._peak - _BELOW_PEAK_DB)
        self._run = self._run + 1 if loud else 0
        if loud:
            self._loud.append(self._at - FRAME)
        if self._run >= _STEADY_FRAMES:
            self.loud_samples += FRAME
            self.loud_until = self._at
            self._since.clear()
        else:
            self._since.append(level)
