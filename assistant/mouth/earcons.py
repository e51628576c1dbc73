"""Earcons: short tones that say what the assistant is doing, where a word would be too much.

Law: made by formula, told apart by rhythm first (one, two, one long, three) and by pitch second, so that they survive
noise and a weak ear. Fundamentals lie within 400 to 2000 Hz (in-vehicle sounds, ISO 15006) and nothing is above
2.5 kHz (older ears, ISO 24500), both from memory. A tone never carries a verdict: pass and fail are always words.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from assistant.mouth.sound import Sound

RATE_HZ = 22050
LOUDNESS = 0.3  # of full scale: about as loud as speech, which has its peaks at 0.8
EDGE_S = 0.008  # shorter edges click

Wave = NDArray[np.float64]


def _swell(low_hz: float, high_hz: float, seconds: float) -> Wave:
    """A tone that glides and swells, with a soft twelfth on top."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    phase = 2 * math.pi * (low_hz * t + (high_hz - low_hz) * t * t / (2 * seconds))
    return np.sin(math.pi * t / seconds) * (np.sin(phase) + 0.2 * np.sin(3 * phase)) / 1.2


def _knock(hertz: float, seconds: float) -> Wave:
    """A tone that dies away, as of a struck bar of wood."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    edges = np.clip(np.minimum(t, seconds - t) / EDGE_S, 0.0, 1.0)
    return edges * np.exp(-3.0 * t / seconds) * np.sin(2 * math.pi * hertz * t)


def _steady(hertz: float, seconds: float) -> Wave:
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    edges = np.clip(np.minimum(t, seconds - t) / EDGE_S, 0.0, 1.0)
    return edges * np.sin(2 * math.pi * hertz * t)


def _rest(seconds: float) -> Wave:
    return np.zeros(round(seconds * RATE_HZ))


def _sound(*parts: Wave) -> Sound:
    return Sound(np.round(np.concatenate(parts) * LOUDNESS * 32767).astype(np.int16), RATE_HZ)


LISTENING: Final = _sound(_swell(430, 640, 0.18))
"""The ears are open."""

HEARD: Final = _sound(_knock(980, 0.06), _rest(0.05), _knock(980, 0.06))
"""Something was understood."""

TIME_RUNNING: Final = _sound(_knock(520, 0.12))
"""A timed hold goes on; to be repeated every few seconds."""

ATTENTION: Final = _sound(_steady(760, 0.11), _rest(0.06), _steady(1250, 0.11), _rest(0.06), _steady(760, 0.16))
"""Something is wrong, and words follow."""
