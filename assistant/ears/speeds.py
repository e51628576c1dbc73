"""The letters of a sound that is heard at several speeds: what is misheard at one by chance is not at the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import fmean

import numpy as np
import soxr

from assistant.ears.decoding import RATE_HZ, Samples
from assistant.ears.opinion import Opinion
from assistant.ears.spelling import Real

WHOLE = 16
TWO, THREE_MORE = (WHOLE, 17), (15, 18, 14)
"""How long the sound is made, in sixteenths. Of 490 readings by nine voices that taught nothing, in seven conditions,
438 were believed and right, 9 wrong, by two hearings half a step apart; by all five of these 436 and 1. Seven brought
no more."""


def hearings(opinion: Opinion, sound: Samples, lengths: Iterable[int]) -> list[Real]:
    """The letters at each speed; fewer where the opinion has none."""
    heard = (opinion.letters(_lasting(sound, length)) for length in lengths)
    return [told for told in heard if told is not None]


def means(likely: Sequence[Sequence[float]]) -> list[float]:
    """What the hearings come to together; `likely`: the same figures of each."""
    return [fmean(several) for several in zip(*likely, strict=True)]


def _lasting(sound: Samples, sixteenths: int) -> Samples:
    """The sound made longer or shorter, and lower or higher with it."""
    if sixteenths == WHOLE:
        return sound
    other = soxr.resample(sound, RATE_HZ, RATE_HZ * sixteenths / WHOLE)
    return np.asarray(other, np.int16)
