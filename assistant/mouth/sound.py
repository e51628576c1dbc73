"""A sound: samples and their rate. What a voice renders, what an earcon is, what the player plays."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from assistant.core.trouble import BadInput

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


def decoded(data: bytes) -> Sound:
    """The sound in the bytes of a sound file of one channel. Raises BadInput for any other bytes."""
    try:
        samples, rate = soundfile.read(io.BytesIO(data), dtype="int16", always_2d=True)
    except (soundfile.LibsndfileError, ValueError) as error:
        raise BadInput(f"A kept sound can't be played: {error}. Verify the log with --verify.") from error
    return Sound(samples[:, 0].copy(), int(rate))
