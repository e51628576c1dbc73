"""The voices that the speller learns from, each time another one: a program, a voice of it, its pitch, its speed.

Law: a voice that is held out of the measurement of hearing is not among them, nor are the variants of espeak-ng in
UNHEARD; so it can be measured on voices that it never heard.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from functools import cache
from typing import Literal

import numpy as np
import soxr

from tests.bench import kokoro, sounds
from tests.bench.hearing_speech import HELD_OUT, UNTAUGHT
from tests.bench.practice import throats
from tests.bench.sounds import RATE, Rng, Sound

UNHEARD = (
    *(name.split("+")[1] for name in HELD_OUT + UNTAUGHT if name.startswith("espeak-ng")),
    *("Gene2", "iven3", "robert", "belinda", "Mike", "zac"),
)
_EFFECTS = (
    *("whisper", "whisperf", "Demonic", "UniRobot", "anikaRobot", "Tweaky", "fast", "announcer"),
    *("AnxiousAndy", "croak"),
)
_ACCENTS = (*("en-us",) * 5, "en-gb", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-rp", "en-029", "en-us-nyc")
_ELSEWHERE, _SHIFTED = 0.35, 0.4  # how often espeak-ng speaks as somewhere else, how many of the vowels move there
_NEAR_VOWELS = {
    "aI": ("A:", "OI", "eI"),
    "eI": ("aI", "E", "i:"),
    "oU": ("O:", "aU", "u:"),
    "aU": ("a", "oU"),
    "i:": ("I", "eI"),
    "u:": ("U", "oU"),
    "O:": ("oU", "A:"),
    "A:": ("O:", "a"),
    "3:": ("E", "V"),
    "V": ("U", "a"),
    "E": ("I", "a"),
    "I": ("i:", "E", "@"),
    "a": ("E", "A:"),
    "U": ("u:", "V"),
}
"""Of espeak-ng's names of the English vowels: where they may have moved to. No accent of a map; chance."""
_VOWEL = re.compile("|".join(_NEAR_VOWELS))
_ALONE, _MIXED, _BLEND = 0.5, 0.6, 3  # a voice of Kokoro alone, how often; else three in parts by Dirichlet
_ENGLISH = 0.72  # the share of American and British ones
_OTHER_SPEED, _SPEEDS = 0.6, (0.87, 1.15)  # how often a voice is made higher and faster or lower and slower, how much
_LETTER_BY_LETTER, _PAUSED = 0.6, 0.12


def espeak(text: str, rng: Rng) -> Sound:
    """One of some seventy variants in one of seven accents, at times with vowels that have moved."""
    accent = str(rng.choice(_ACCENTS))
    name = f"{accent}+{rng.choice(_variants())}" if rng.random() < 0.9 else accent
    if rng.random() < _ELSEWHERE:
        text = _elsewhere(text, accent, rng)
    return sounds.espeak(text, name, int(rng.integers(120, 200)), int(rng.integers(25, 75)))


def _elsewhere(text: str, accent: str, rng: Rng) -> str:
    """The text in sounds instead of letters, some vowels as in an accent that does not exist."""
    moved = {vowel: str(rng.choice(near)) if rng.random() < _SHIFTED else vowel for vowel, near in _NEAR_VOWELS.items()}
    told = subprocess.run(["espeak-ng", "-q", "-x", "-v", accent, text], capture_output=True, check=True, text=True)
    lines = [_VOWEL.sub(lambda one: moved[one[0]], line.strip()) for line in told.stdout.splitlines()]
    return ", ".join(f"[[{line}]]" for line in lines)


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
    """One of some fifty voices of Kokoro, or a mixture of three."""
    parts = [1.0] if rng.random() < _ALONE else rng.dirichlet([_MIXED] * _BLEND)
    shares: dict[str, float] = {}
    for part in parts:
        voice = str(rng.choice(_of_kokoro("English" if rng.random() < _ENGLISH else "other")))
        shares[voice] = shares.get(voice, 0.0) + float(part)
    return sounds.neural(text, shares, float(rng.uniform(0.75, 1.3)))


@cache
def _of_kokoro(speech: Literal["English", "other"]) -> tuple[str, ...]:
    taught = [name for name in kokoro.names() if f"kokoro {name}" not in HELD_OUT + UNTAUGHT]
    english = tuple(name for name in taught if name.startswith(("a", "b")))
    return english if english and speech == "English" else tuple(name for name in taught if name not in english)


def joe(text: str, rng: Rng) -> Sound:
    """The voice of Piper that comes as a package."""
    return sounds.piper(text, float(rng.uniform(0.75, 1.25)))


def pico(text: str, rng: Rng) -> Sound:
    """A diphone voice of SVOX Pico, at any speed and pitch."""
    return sounds.pico(text, "en-US", int(rng.integers(75, 140)), int(rng.integers(70, 145)))


SHARES: dict[Callable[[str, Rng], Sound], tuple[float, float]] = {
    espeak: (0.42, 0.1),
    flite: (0.09, 0.5),
    festival: (0.09, 0.5),
    neural: (0.15, 0.3),
    joe: (0.09, 0.6),
    pico: (0.16, 0.6),
}
"""Their shares of all utterances; and how many of theirs are spoken by another throat. These are of the third time; at
the second half of all was by Kokoro."""


def utterance(text: str, maker: Callable[[str, Rng], Sound], rng: Rng) -> Sound:
    """The text, letters of units at times one by one, at times with a pause in it, at -26 dB active level, without the
    silence around it."""
    if rng.random() < _LETTER_BY_LETTER:
        text = text.replace("psi", "p s i").replace("kpa", "k p a")
    words = text.split()
    if len(words) > 1 and rng.random() < _PAUSED:
        words[int(rng.integers(len(words) - 1))] += ","
    sound = maker(" ".join(words), rng)
    if rng.random() < SHARES[maker][1]:
        sound = throats.another(sound, rng)
    elif rng.random() < _OTHER_SPEED:
        sound = np.asarray(soxr.resample(sound, RATE, RATE * rng.uniform(*_SPEEDS)), np.float32)
    return sounds.to_level(sounds.trimmed(sound), -26.0)
