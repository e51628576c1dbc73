"""Other people: a voice taken apart into pitch, throat and breath, changed and put together again (WORLD, Morise et al.
2016, by pyworld)."""

from __future__ import annotations

import numpy as np
import pyworld
from numpy.typing import NDArray

from tests.bench.sounds import RATE, Rng, Sound

Real = NDArray[np.float64]

_PITCH_HZ = 75, 300
_PITCH_SPREAD, _THROAT_SPREAD = 0.25, 0.06  # natural logarithms, standard deviation
_MELODY = 0.4, 1.5  # flatter or livelier
_FOLLOWS = 0.3  # who speaks higher has a shorter throat, by this power
_THROATS = 0.82, 1.22
_BREATHY, _BREATH = 0.3, (0.4, 1.0)
_UNEVEN = 0.12  # the speed within an utterance
_FEWEST = 5  # voiced frames of 5 ms


def another(speech: Sound, rng: Rng) -> Sound:
    """The same words by somebody else; as they are where there is next to no voice in them."""
    sound = speech.astype(np.float64)
    pitch, times = pyworld.dio(sound, RATE)
    pitch = pyworld.stonemask(sound, pitch, times, RATE)
    voiced = pitch > 0
    if voiced.sum() < _FEWEST:
        return speech
    spectrum, breath = pyworld.cheaptrick(sound, pitch, times, RATE), pyworld.d4c(sound, pitch, times, RATE)
    usual = float(np.exp(np.log(pitch[voiced]).mean()))
    wanted = float(np.clip(usual * np.exp(rng.normal(0, _PITCH_SPREAD)), *_PITCH_HZ))
    pitch[voiced] = np.exp(np.log(wanted) + np.log(pitch[voiced] / usual) * rng.uniform(*_MELODY))
    throat = float(np.clip((wanted / usual) ** _FOLLOWS * np.exp(rng.normal(0, _THROAT_SPREAD)), *_THROATS))
    spectrum, breath = np.exp(_shifted(np.log(spectrum + 1e-12), throat)), _shifted(breath, throat)
    if rng.random() < _BREATHY:
        breath = np.clip(breath, 0, 1) ** rng.uniform(*_BREATH)
    frames = _unevenly(len(pitch), rng)
    made = pyworld.synthesize(*(np.ascontiguousarray(part[frames]) for part in (pitch, spectrum, breath)), RATE)
    return np.asarray(made, np.float32)


def _shifted(rows: Real, factor: float) -> Real:
    """Each row with its frequencies multiplied."""
    places = np.arange(rows.shape[1])
    return np.array([np.interp(places / factor, places, row) for row in rows])


def _unevenly(frames: int, rng: Rng) -> NDArray[np.intp]:
    """The frames in order, here faster, there slower, as many as they were."""
    knots = np.exp(rng.normal(0, _UNEVEN, max(3, frames // 60 + 2)))
    speed = np.interp(np.linspace(0, len(knots) - 1, frames), np.arange(len(knots)), knots)
    at = np.cumsum(speed)
    return np.round(at / at[-1] * (frames - 1)).astype(np.intp)
