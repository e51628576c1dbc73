"""What a cab sounds like, by formula and from a seed: engine, escaping air, the air dryer, the low-air buzzer.

Law: no recorded sound; every noise is a formula with random parameters. A noise is (samples, chance) -> float32 mono at
16 kHz, of any level. How strong a voice or a noise is, is measured here as well, so that both are mixed by one measure.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE = 16_000
Sound = NDArray[np.float32]
Curve = NDArray[np.floating[Any]]
Chance = np.random.Generator
Noise = Callable[[int, Chance], Sound]


def active_level(sound: Sound) -> float:
    """Level of the speech without its pauses, dB below full scale, after the idea of ITU-T P.56, method B: the power
    averaged over the time in which the envelope, held for 200 ms, is above a threshold 15.9 dB under that average."""
    frame = RATE // 100
    power = np.square(sound[: len(sound) // frame * frame].astype(np.float64)).reshape(-1, frame).mean(axis=1)
    earlier = range(min(20, len(power)))
    held = np.maximum.reduce([np.concatenate([np.zeros(k), power[: len(power) - k]]) for k in earlier])
    level = float(power.mean())
    for _ in range(20):
        active = held > level / 10**1.59
        if not active.any():
            return -200.0
        level = float(power.sum() / active.sum())
    return 10 * float(np.log10(level + 1e-20))


def rms_level(sound: Curve) -> float:
    """Level of all of it, dB below full scale."""
    return 10 * float(np.log10(np.square(sound.astype(np.float64)).mean() + 1e-20))


def shaped(samples: int, chance: Chance, gain: Callable[[Any], Any]) -> NDArray[np.float64]:
    """White noise with this amplitude over frequency (Hz)."""
    spectrum = np.fft.rfft(chance.normal(0, 1, samples))
    return np.asarray(np.fft.irfft(spectrum * gain(np.fft.rfftfreq(samples, 1 / RATE)), samples), np.float64)


def wander(samples: int, chance: Chance, share: float, seconds: float) -> NDArray[np.float64]:
    """A slow random factor around 1."""
    knots = chance.normal(1, share, max(4, int(samples / RATE / seconds) + 4))
    return np.interp(np.linspace(0, len(knots) - 1, samples), np.arange(len(knots)), knots)


def diesel(samples: int, chance: Chance, fast: bool = False) -> Sound:
    """A six-cylinder four-stroke engine in the cab: three firings a turn, half orders between them, knock noise in the
    rhythm of the firings and a rumble of the road of the air and the body (about -6 dB an octave)."""
    turns = (chance.uniform(950, 1150) if fast else chance.uniform(580, 720)) / 60
    phase = 2 * np.pi * np.cumsum(turns * wander(samples, chance, 0.01, 0.5)) / RATE
    tones = np.zeros(samples)
    for order in np.arange(0.5, 60.5, 0.5):
        strength = 1.0 if order % 3 == 0 else 0.25 if order % 1.5 == 0 else 0.1
        amplitude = strength * chance.uniform(0.5, 1.5) / (1 + order * turns / 150) ** 1.2
        tones += amplitude * np.sin(order * phase + chance.uniform(0, 2 * np.pi))
    knock = (0.5 + 0.5 * np.cos(3 * phase)) ** 4 * shaped(samples, chance, lambda f: 1 / (1 + (f / 1800) ** 2))
    rumble = shaped(samples, chance, lambda f: 1 / (1 + f / 120))
    cab = tones / tones.std() + 0.35 * knock / knock.std() + 0.5 * rumble / rumble.std()
    return np.asarray(cab, np.float32)


def fast_diesel(samples: int, chance: Chance) -> Sound:
    """The same engine at fast idle."""
    return diesel(samples, chance, fast=True)


def hiss(samples: int, chance: Chance) -> Sound:
    """Escaping air: white noise above one or two kHz."""
    corner = chance.uniform(900, 2200)
    white = shaped(samples, chance, lambda f: 1 / (1 + (corner / np.maximum(f, 1)) ** 2))
    return np.asarray(white, np.float32)


def purge(samples: int, chance: Chance) -> Sound:
    """The air dryer blowing off: bursts of hiss that die away within a second, over a weak hiss."""
    level = np.full(samples, 0.1)
    time = np.arange(samples) / RATE
    for start in chance.uniform(0, samples / RATE, max(1, round(samples / RATE / 3))):
        level += np.where(time > start, np.exp(-(time - start) / chance.uniform(0.2, 0.5)), 0)
    return np.asarray(hiss(samples, chance) * level, np.float32)


def buzzer(samples: int, chance: Chance, pulsed: bool = False) -> Sound:
    """The low-air warning: a square wave of 400 to 3000 Hz, without its harmonics above half the rate."""
    pitch = np.exp(chance.uniform(np.log(400), np.log(3000)))
    phase = 2 * np.pi * np.cumsum(pitch * wander(samples, chance, 0.0005, 1.0)) / RATE
    tone = np.zeros(samples)
    for order in range(1, int(RATE / 2 / pitch) + 1, 2):
        tone += np.sin(order * phase) / order
    if pulsed:
        beats, on = chance.uniform(1.5, 4), chance.uniform(0.4, 0.6)
        tone *= np.convolve((np.arange(samples) / RATE * beats + chance.uniform()) % 1 < on, np.ones(80) / 80, "same")
    return np.asarray(tone + 0.02 * chance.normal(0, 1, samples), np.float32)


def pulsed_buzzer(samples: int, chance: Chance) -> Sound:
    """The low-air warning that comes and goes."""
    return buzzer(samples, chance, pulsed=True)


NOISES: dict[str, Noise] = {
    "diesel": diesel,
    "fast-diesel": fast_diesel,
    "hiss": hiss,
    "purge": purge,
    "buzzer": buzzer,
    "pulsed-buzzer": pulsed_buzzer,
}
"""By the name that a command line uses."""
