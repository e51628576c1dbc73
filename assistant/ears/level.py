"""How loud: levels of recorded sound and what they mean for a person who sets up a microphone.

Law: levels are decibels of full scale (0 dB = the largest sample that 16 bits hold), so -96 dB is the quietest step.
The limits below are common practice, no source; they only choose words, never whether a reading counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FULL_SCALE = 32768.0
SILENCE_DB = -96.0
CLIPPED_AT = 32700
NO_SOUND_DB = -75.0  # below the noise of any real microphone that is switched on
LOW_DB = -45.0
CLIPPING_SHARE = 0.05  # of the loud blocks
BARGE_IN_LEAK_DB = -15.0  # above this the assistant's own voice can't be told from the driver's by its level

Advice = Literal["no sound", "low", "clipping", "good"]


@dataclass(frozen=True, slots=True)
class Level:
    """Of one block: root mean square and peak in dB of full scale, and whether samples hit the limit of 16 bits."""

    rms_db: float
    peak_db: float
    clipped: bool


def level_of(samples: NDArray[np.int16]) -> Level:
    """The level of 16 bit samples of any shape; an empty block is silence."""
    if not samples.size:
        return Level(SILENCE_DB, SILENCE_DB, False)
    wide = samples.astype(np.float64)
    peak = float(np.max(np.abs(wide)))
    return Level(_db(math.sqrt(float(np.mean(wide * wide)))), _db(peak), peak >= CLIPPED_AT)


def speech_db(levels: Sequence[Level]) -> float:
    """The level of what was said in these blocks, pauses left out: the power mean of the loudest third.

    A simplification of the active speech level of ITU-T P.56, good to a few dB, for comparing two stretches.
    """
    loud = _loudest_third(levels)
    if not loud:
        return SILENCE_DB
    return 10 * math.log10(sum(10 ** (level.rms_db / 10) for level in loud) / len(loud))


def advise(levels: Sequence[Level]) -> Advice:
    """What these blocks, in which somebody spoke, say about the microphone."""
    loud = _loudest_third(levels)
    if not loud or max(level.peak_db for level in loud) < NO_SOUND_DB:
        return "no sound"
    if sum(level.clipped for level in loud) > CLIPPING_SHARE * len(loud):
        return "clipping"
    return "low" if speech_db(levels) < LOW_DB else "good"


def _loudest_third(levels: Sequence[Level]) -> list[Level]:
    return sorted(levels, key=lambda level: level.rms_db, reverse=True)[: math.ceil(len(levels) / 3)]


def _db(amplitude: float) -> float:
    return max(SILENCE_DB, 20 * math.log10(amplitude / FULL_SCALE)) if amplitude > 0 else SILENCE_DB
