"""The voices that the speller learns from, each time another one: a program, a voice of it, its pitch, its speed.

Law: a voice that is held out of the measurement of hearing is not among them, nor are the variants of espeak-ng in
UNHEARD; so it can be measured on voices that it never heard.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from functools import cache

import numpy as np
import soxr

from tests.bench import sounds
from tests.bench.sounds import RATE, Rng, Sound

UNHEARD = (
    *("m7", "f5"),  # held out of the measurement
    *("adam", "Alicia", "Gene2", "iven3", "klatt4", "robert", "steph2", "belinda", "Mike", "zac"),
)
_EFFECTS = (
    *("whisper", "whisperf", "Demonic", "UniRobot", "anikaRobot", "Tweaky", "fast", "announcer"),
    *("AnxiousAndy", "croak"),
)
_ACCENTS = (*("en-us",) * 5, "en-gb", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-rp", "en-029", "en-us-nyc")
_JAPANESE = ("jf_alpha", "jf_nezumi", "jf_tebukuro", "jm_kumo")
_MIXED = 0.35  # Dirichlet: mostly one of them, often two
_OTHER_THROAT, _THROATS = 0.6, (0.87, 1.15)  # how often, and by how much a voice is made higher or lower as a whole


def espeak(text: str, rng: Rng) -> Sound:
    """One of some seventy variants in one of seven accents."""
    accent = str(rng.choice(_ACCENTS))
    name = f"{accent}+{rng.choice(_variants())}" if rng.random() < 0.9 else accent
    return sounds.espeak(text, name, int(rng.integers(120, 200)), int(rng.integers(25, 75)))


@cache
def _variants() -> tuple[str, ...]:
    told = subprocess.run(["espeak-ng", "--voices=variant"], capture_output=True, check=True, text=True).stdout
    names = [line.split()[4].removeprefix("!v/") for line in told.splitlines()[1:]]
    return tuple(name for name in names if name not in UNHEARD + _EFFECTS and not name.startswith(("robosoft", "Mr")))


def flite(text: str, rng: Rng) -> Sound:
    """Four voices, often at another pitch."""
    voice = str(rng.choice(("slt", "slt", "rms", "rms", "awb", "awb", "kal16")))
    pitch_hz = rng.uniform(80, 220) if voice != "kal16" and rng.random() < 0.5 else None
    return sounds.flite(text, voice, rng.uniform(0.75, 1.25), pitch_hz)


def festival(text: str, rng: Rng) -> Sound:
    """A statistical and a diphone voice."""
    voice = str(rng.choice(("cmu_us_slt_arctic_hts", "ked_diphone")))
    return sounds.festival(text, voice, rng.uniform(0.75, 1.25))


def neural(text: str, rng: Rng) -> Sound:
    """A mixture of four voices of Kokoro."""
    shares = dict(zip(_JAPANESE, rng.dirichlet([_MIXED] * len(_JAPANESE)), strict=True))
    return sounds.neural(text, shares, float(rng.uniform(0.8, 1.25)))


SHARES: dict[Callable[[str, Rng], Sound], int] = {espeak: 60, flite: 20, festival: 7, neural: 13}
"""How many of a hundred utterances."""


def utterance(text: str, maker: Callable[[str, Rng], Sound], rng: Rng) -> Sound:
    """The text, letters of units at times one by one, at -26 dB active level, without the silence around it."""
    if rng.random() < 0.6:
        text = text.replace("psi", "p s i").replace("kpa", "k p a")
    sound = maker(text, rng)
    if rng.random() < _OTHER_THROAT:
        sound = np.asarray(soxr.resample(sound, RATE, RATE * rng.uniform(*_THROATS)), np.float32)
    return sounds.to_level(sounds.trimmed(sound), -26.0)
