"""What is said to the ears in the measurement of hearing: readings, repairs, moments, and what is none of these.

Law: everything follows from a seed. Some voices are held out: constants of the ears are chosen on the others alone.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from assistant import assets
from assistant.core.numbers import USUAL, spellings
from tests.bench import sounds
from tests.bench.hearing_texts import CARRIERS, MOMENTS, REPAIRS, TALK, TO_A_PASSENGER, WITHDRAWALS
from tests.bench.sounds import Rng, Sound, Voice

HELD_OUT = (
    "espeak-ng en-us+m7",
    "espeak-ng en-gb-x-gbcwmd+f5",
    "festival kal_diphone",
    "kokoro jf_gongitsune",
    *("kokoro af_nova", "kokoro am_adam", "kokoro bf_isabella", "kokoro bm_daniel"),
    "recorded words",
)
"""Voices on which nothing was chosen and from which nothing learnt."""
UNTAUGHT = (
    "pico en-GB",
    *("kokoro af_sarah", "kokoro am_eric", "kokoro bf_alice", "kokoro bm_lewis"),
    *(f"espeak-ng en-us+{name}" for name in ("adam", "Alicia", "klatt4", "steph2")),
)
"""Voices from which nothing learnt either, on which limits are chosen."""
VOICES = ("tuning", "untaught", "held-out", "all")
"""Which voices: all that are not held out, those of UNTAUGHT, those of HELD_OUT, all."""
_TRIES = 300
BEFORE_S = 1.5
"""Noise before the speech: as long as the front end needs to know it."""


@dataclass(frozen=True)
class Spoken:
    """One utterance. `values`: the numbers that it means in the end, () = it is no reading. `withdraws`: it takes an
    earlier number back. `moment_s`: when its first word begins, in seconds of `sound`, for a report with a moment."""

    kind: str
    text: str
    values: tuple[float, ...]
    sound: Sound
    voice: str = ""
    withdraws: bool = False
    moment_s: float | None = None


NO_READING = ("everyday talk", "to a passenger", "own line", "burst of noise")


def voices(which: str) -> list[Voice]:
    """`which`: one of VOICES."""
    found = sounds.voices()
    if which == "untaught":
        return [voice for voice in found if str(voice) in UNTAUGHT]
    return [voice for voice in found if which == "all" or (str(voice) in HELD_OUT) == (which == "held-out")]


def reading(voice: Voice, rng: Rng) -> Spoken:
    """A number of 0 to 150 in any spelling and carrier; a third are teens and tens. One in eight names two needles."""
    if rng.random() < 1 / 8:
        (one, first), (other, second) = number(rng), number(rng)
        text = f"primary {first} secondary {second}"
        return said("two needles", text, (one, other), voice, rng)
    for _ in range(_TRIES):
        value, words = number(rng)
        text = str(rng.choice(CARRIERS)).format(words)
        text = text.replace("psi", "p s i") if voice == sounds.RECORDED else text
        if sounds.can_say(voice, text):
            break
    return said("reading", text, (value,), voice, rng)


def digits(voice: Voice, rng: Rng) -> Spoken:
    """A number digit by digit, as it is asked for where a word may be its twin."""
    value, _ = number(rng)
    return said("digits", one_by_one(int(value)), (value,), voice, rng)


def one_by_one(value: int) -> str:
    """Two figures at least, each by its name."""
    names = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return " ".join(names[int(figure)] for figure in f"{value:02}")


def repair(voice: Voice, rng: Rng) -> Spoken:
    """A number corrected in one breath."""
    (_, first), (value, second) = number(rng), number(rng)
    return said("repair", str(rng.choice(REPAIRS)).format(first, second), (value,), voice, rng)


def withdrawal(voice: Voice, rng: Rng) -> Spoken:
    """A number taken back without a new one."""
    return said("taken back", str(rng.choice(WITHDRAWALS)), (), voice, rng, withdraws=True)


def moment(voice: Voice, rng: Rng) -> Spoken:
    """A word whose time counts."""
    return said("moment", str(rng.choice(MOMENTS)), (), voice, rng, moment_s=BEFORE_S)


def no_reading(voice: Voice, rng: Rng) -> Spoken:
    """Talk, the assistant's own lines in another voice, coughs and bangs."""
    kind = str(rng.choice(NO_READING, p=(0.4, 0.2, 0.25, 0.15)))
    if kind == "burst of noise":
        return Spoken(kind, "", (), _burst(rng), "noise")
    texts = {"everyday talk": TALK, "to a passenger": TO_A_PASSENGER, "own line": _own_lines()}[kind]
    return said(kind, str(rng.choice(texts)), (), voice, rng)


MAKERS: dict[str, tuple[Callable[[Voice, Rng], Spoken], float]] = {
    "readings": (reading, 1.0),
    "no readings": (no_reading, 0.4),
    "digits": (digits, 0.2),
    "repairs": (repair, 0.15),
    "taken back": (withdrawal, 0.05),
    "moments": (moment, 0.1),
}
"""Group -> how one of it is made, and how many for each reading."""


def number(rng: Rng) -> tuple[float, str]:
    """A value and a way to say it: mostly in words as drivers do, at times digit by digit, seldom with a nought before
    it or the radio words "niner" and "fife"."""
    alike = [*range(13, 20), *range(30, 100, 10), *range(113, 120), 130, 140, 150]
    value = int(rng.choice(alike)) if rng.random() < 1 / 3 else int(rng.integers(0, 151))
    ways = _ways()[value]
    chances = np.array([_usualness(words) for words in ways])
    return value, " ".join(ways[int(rng.choice(len(ways), p=chances / chances.sum()))])


def _usualness(words: tuple[str, ...]) -> float:
    """How often a spelling is drawn, against another one of the same value. An estimate: no count of real speech."""
    figures = {"zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner", "fife"}
    share = 0.3 if len(words) > 1 and figures.issuperset(words) else 1.0
    share *= 0.1 if words[0] == "zero" and len(words) > 1 else 1.0
    return share * (0.05 if {"niner", "fife"} & set(words) else 1.0)


@cache
def _ways() -> dict[float, list[tuple[str, ...]]]:
    found: dict[float, list[tuple[str, ...]]] = {}
    for words, value in spellings(USUAL["psi"][:1]):
        found.setdefault(value, []).append(words)
    return found


def usual_spellings(highest: float = 159) -> list[str]:
    """Every spelling of a whole number up to `highest`, for the baselines."""
    return [" ".join(words) for value, ways in _ways().items() if value <= highest for words in ways]


def said(
    kind: str,
    text: str,
    values: Sequence[float],
    voice: Voice,
    rng: Rng,
    *,
    withdraws: bool = False,
    moment_s: float | None = None,
) -> Spoken:
    if not sounds.can_say(voice, text):
        voice = next(other for other in sounds.voices() if str(other) in HELD_OUT and sounds.can_say(other, text))
    made = sounds.speak(voice, text, rng)
    return Spoken(kind, text, tuple(values), made, str(voice), withdraws, moment_s)


@cache
def _own_lines() -> tuple[str, ...]:
    """All prompts without a value to fill in."""
    files: list[Path] = sorted(assets.prompt_folder().glob("*.toml"))
    found: list[str] = []
    for file in files:
        _gather(tomllib.loads(file.read_text(encoding="utf-8")), found)
    return tuple(text for text in found if text and "{" not in text)


def _gather(table: dict[str, object], found: list[str]) -> None:
    for name, value in table.items():
        if isinstance(value, dict):
            _gather(value, found)
        elif name in ("say", "brief") and isinstance(value, str):
            found.append(value)


def _burst(rng: Rng) -> Sound:
    """Coughs, bangs and rattles: one to three bursts of coloured noise that rise at once and die away."""
    sound = np.zeros(int(rng.uniform(0.5, 1.5) * sounds.RATE))
    time = np.arange(len(sound)) / sounds.RATE
    for start in rng.uniform(0, 0.7 * time[-1], int(rng.integers(1, 4))):
        white = np.fft.rfft(rng.normal(0, 1, len(sound)))
        f = np.fft.rfftfreq(len(sound), 1 / sounds.RATE)
        centre, width = rng.uniform(200, 2500), rng.uniform(200, 2000)
        coloured = np.fft.irfft(white * np.exp(-(((f - centre) / width) ** 2)), len(sound))
        fading = np.exp(-np.maximum(time - start, 0) / rng.uniform(0.03, 0.2))
        sound += coloured / coloured.std() * np.where(time >= start, fading, 0)
    return sounds.to_level(sound.astype(np.float32), -26.0)
