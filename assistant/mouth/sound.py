"""A sound: samples and their rate. What a voice renders, what an earcon is, what the player plays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

Samples = NDArray[np.int16]


@dataclass(frozen=True, eq=False)
class Sound:
    """One channel of 16 bit samples, shape (frames,); `rate` in Hz."""

    samples: Samples
    rate: int

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate

    def at_rate(self, rate: int) -> Sound:
        """The same sound for a device that runs at `rate` Hz."""
        if rate == self.rate:
            return self
        return Sound(soxr.resample(self.samples, self.rate, rate), rate)
