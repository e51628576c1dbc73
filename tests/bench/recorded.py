"""A human voice for the measurements: single words that a person has recorded, joined.

Source: Debian's package asterisk-core-sounds-en-g722 (recorded by one speaker, CC-BY-SA 3.0): numbers and letters of a
telephone system, 16 kHz. Only what is made of these words can be said, so no sentence around a number.
"""

from __future__ import annotations

from functools import cache
from importlib import util
from pathlib import Path

import numpy as np

from assistant.core.numbers import spoken
from assistant.vehicle.noise import RATE, Sound

FOLDER = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
_BIT_RATE = 64_000
_PAUSE_S = (0.02, 0.12)  # between two words
_QUIET = 0.02  # of the peak: the silence around a recording


def is_here() -> bool:
    return FOLDER.is_dir() and util.find_spec("G722") is not None


def can_say(text: str) -> bool:
    return all(word in _files() for word in text.split())


def say(text: str, rng: np.random.Generator) -> Sound:
    """The words of the text one after the other, at RATE."""
    parts = []
    for word in text.split():
        parts += [_word(word), np.zeros(int(rng.uniform(*_PAUSE_S) * RATE), np.float32)]
    return np.concatenate(parts[:-1])


@cache
def _files() -> dict[str, Path]:
    numbers = [*range(20), *range(20, 100, 10)]
    found = {spoken(value): FOLDER / "digits" / f"{value}.g722" for value in numbers}
    found["hundred"] = FOLDER / "digits" / "hundred.g722"
    found |= {letter: FOLDER / "letters" / f"{letter}.g722" for letter in "psi"}
    return {word: file for word, file in found.items() if file.is_file()}


@cache
def _word(word: str) -> Sound:
    from G722 import G722

    sound = np.asarray(G722(RATE, _BIT_RATE).decode(_files()[word].read_bytes()), np.float32) / 32768
    loud = np.flatnonzero(np.abs(sound) > _QUIET * np.abs(sound).max())
    return sound[loud[0] : loud[-1] + 1]
