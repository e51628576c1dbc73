"""An utterance as the second opinion gets it: in a cab, in its noise, through the front end."""

from __future__ import annotations

from functools import cache

import numpy as np

from assistant.ears.decoding import Samples
from assistant.ears.frontend import FrontEnd
from assistant.vehicle import noise as noises
from tests.bench import sounds
from tests.bench.sounds import RATE, Rng, Sound

CONDITIONS: dict[str, tuple[float, float, float]] = {
    "quiet": (0.10, 45, 45),
    "diesel": (0.27, -4, 14),
    "fast-diesel": (0.07, -3, 15),
    "buzzer": (0.10, -5, 15),
    "pulsed-buzzer": (0.06, -4, 15),
    "hiss": (0.22, -1, 14),
    "purge": (0.06, -1, 15),
    "babble": (0.06, 5, 20),
    "white": (0.02, 2, 20),
    "diesel and buzzer": (0.04, -2, 15),
}
"""Name -> its share, and the ratio of speech to noise in dB, from and to."""
_BEFORE_S, _AFTER_S = (1.1, 1.8), 0.55  # of noise around the words
_KEPT_BEFORE_S, _KEPT_AFTER_S = (0.08, 0.42), (0.08, 0.45)  # of it, what the second opinion gets
_LOUDER_DB = -14, 4
_STRETCHES, _STRETCH_S = 40, 10  # of each noise so many of so many seconds: to make one takes long
_IN_A_ROOM, _COLOURED, _NARROW = 0.3, 0.5, 0.2  # how often
_COLOUR_DB = 3.0
_HERTZ = (0, 150, 400, 1000, 2500, 4500, 8000)


def heard(speech: Sound, others: list[Sound], rng: Rng) -> tuple[Samples, Samples]:
    """`speech` in a noise by chance, treated; and as it was, for as long. `others`: what a radio may say meanwhile."""
    name = str(rng.choice(list(CONDITIONS), p=[share for share, _, _ in CONDITIONS.values()]))
    here = sounds.to_level(_through_the_cab(speech, rng), -26.0)
    before, after = int(rng.uniform(*_BEFORE_S) * RATE), int(_AFTER_S * RATE)
    around = np.asarray(_noise(name, before + len(here) + after, others, rng))
    ratio = rng.uniform(*CONDITIONS[name][1:])
    mixed = around * 10 ** ((sounds.active_level(here) - ratio - sounds.rms_level(around)) / 20)
    mixed[before : before + len(here)] += here
    mixed *= 10 ** (rng.uniform(*_LOUDER_DB) / 20)
    front = FrontEnd()
    taken = sounds.int16(mixed / max(1.0, float(np.abs(mixed).max()) / 0.99))
    treated = np.concatenate([front.process(taken), front.flush()])
    clean = np.zeros(len(mixed), np.float32)
    clean[before : before + len(speech)] = speech
    begin = before - int(rng.uniform(*_KEPT_BEFORE_S) * RATE)
    end = before + len(here) + int(rng.uniform(*_KEPT_AFTER_S) * RATE)
    return treated[begin:end], sounds.int16(clean)[begin:end]


def _noise(name: str, samples: int, others: list[Sound], rng: Rng) -> Sound:
    if name in ("quiet", "white"):
        return rng.normal(0, 1, samples).astype(np.float32)
    if name == "babble":
        return sounds.babble([others[int(rng.integers(len(others)))] for _ in range(6)])(samples, rng)
    if name == "diesel and buzzer":
        one, other = (_stretch(part, samples, rng) for part in ("diesel", "buzzer"))
        return np.asarray(one / one.std() + other / other.std() * 10 ** (rng.uniform(-8, 8) / 20), np.float32)
    return _stretch(name, samples, rng)


def _stretch(name: str, samples: int, rng: Rng) -> Sound:
    kept = _stretches(name)[int(rng.integers(_STRETCHES))]
    return np.roll(kept, int(rng.integers(len(kept))))[:samples]


@cache
def _stretches(name: str) -> list[Sound]:
    rng = np.random.default_rng([2020, *map(ord, name)])
    return [noises.NOISES[name](_STRETCH_S * RATE, rng) for _ in range(_STRETCHES)]


def _through_the_cab(speech: Sound, rng: Rng) -> Sound:
    """From another mouth to another microphone, each by chance."""
    for chance, change in ((_IN_A_ROOM, _echoing), (_COLOURED, _coloured), (_NARROW, _narrow)):
        if rng.random() < chance:
            speech = change(speech, rng)
    return speech


def _echoing(speech: Sound, rng: Rng) -> Sound:
    """In a small room: what comes back from its walls is noise that dies away within some hundredths of a second."""
    time = np.arange(int(rng.uniform(0.04, 0.22) * RATE)) / RATE
    echo = rng.normal(0, 1, len(time)) * np.exp(-time / rng.uniform(0.01, 0.045))
    echo[: int(rng.uniform(0.001, 0.004) * RATE)] = 0
    echo *= rng.uniform(0.2, 0.9) / np.sqrt(np.square(echo).sum())
    echo[0] = 1
    return np.convolve(speech, echo)[: len(speech) + len(time) // 2].astype(np.float32)


def _coloured(speech: Sound, rng: Rng) -> Sound:
    """Another microphone: some dB more or less here and there."""
    gains = rng.normal(0, _COLOUR_DB, len(_HERTZ))
    curve = np.interp(np.fft.rfftfreq(len(speech), 1 / RATE), _HERTZ, gains - gains.mean())
    return np.fft.irfft(np.fft.rfft(speech) * 10 ** (curve / 20), len(speech)).astype(np.float32)


def _narrow(speech: Sound, rng: Rng) -> Sound:
    """A microphone or a line without the highest and the lowest frequencies."""
    highest, lowest = rng.uniform(3300, 6500), rng.uniform(60, 300)
    frequencies = np.maximum(np.fft.rfftfreq(len(speech), 1 / RATE), 1)
    gain = 1 / (1 + (frequencies / highest) ** 12) / (1 + (lowest / frequencies) ** 6)
    return np.fft.irfft(np.fft.rfft(speech) * gain, len(speech)).astype(np.float32)
