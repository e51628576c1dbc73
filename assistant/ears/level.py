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
ABOVE_NOISE_DB = 6.0  # what stands out less is not there, as far as levels can tell
BARGE_IN_LEAK_DB = -15.0  # above this the assistant's own voice can't be told from the driver's by its level

Advice = Literal["no sound", "no speech", "low", "clipping", "good"]


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


def advise(quiet: Sequence[Level], spoken: Sequence[Level]) -> Advice:
    """What a stretch in which nobody spoke, and one in which somebody did, say about the microphone."""
    loud = _loudest_third(spoken)
    if not loud or max(level.peak_db for level in loud) < NO_SOUND_DB:
        return "no sound"
    if sum(level.clipped for level in loud) > CLIPPING_SHARE * len(loud):
        return "clipping"
    if speech_db(spoken) < speech_db(quiet) + ABOVE_NOISE_DB:
        return "no speech"
    return "low" if speech_db(spoken) < LOW_DB else "good"


def leak_db(quiet: Sequence[Level], own: Sequence[Level], spoken: Sequence[Level]) -> float | None:
    """How much of the assistant's own voice (`own`: the stretch in which it spoke) comes back into the microphone,
    compared with the driver's voice there; None when none of it stands out of the noise."""
    noise, both = speech_db(quiet), speech_db(own)
    if both < noise + ABOVE_NOISE_DB:
        return None
    return both - speech_db(spoken)


def allows_barge_in(leak: float | None) -> bool:
    """The driver can be heard over the assistant by level alone."""
    return leak is None or leak <= BARGE_IN_LEAK_DB


def _loudest_third(levels: Sequence[Level]) -> list[Level]:
    return sorted(levels, key=lambda level: level.rms_db, reverse=True)[: math.ceil(len(levels) / 3)]


def _db(amplitude: float) -> float:
    return max(SILENCE_DB, 20 * math.log10(amplitude / FULL_SCALE)) if amplitude > 0 else SILENCE_DB
