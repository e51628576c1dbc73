"""An utterance as the second opinion gets it: in the noise of a cab, through the front end."""

from __future__ import annotations

from functools import cache

import numpy as np

from assistant.ears.frontend import FrontEnd
from assistant.ears.opinion import Samples
from assistant.vehicle import noise as noises
from tests.bench import sounds
from tests.bench.sounds import RATE, Rng, Sound

CONDITIONS: dict[str, tuple[float, float, float]] = {
    "quiet": (0.18, 45, 45),
    "diesel": (0.24, -3, 15),
    "fast-diesel": (0.07, -2, 15),
    "buzzer": (0.14, -5, 15),
    "pulsed-buzzer": (0.06, -3, 15),
    "hiss": (0.12, 0, 18),
    "purge": (0.06, 0, 15),
    "babble": (0.06, 5, 20),
    "white": (0.03, 3, 20),
    "diesel and buzzer": (0.04, 0, 15),
}
"""Name -> its share, and the ratio of speech to noise in dB, from and to."""
_BEFORE_S, _AFTER_S = 1.5, 1.0
_AROUND_S = 0.1, 0.4  # of the sound beside the words
_KEPT, _KEPT_S = 12, 10  # of each noise so many stretches of so many seconds: to make one takes long
_COLOURED, _COLOUR_DB = 0.5, 3.0
_HERTZ = (0, 150, 400, 1000, 2500, 4500, 8000)


def heard(speech: Sound, others: list[Sound], rng: Rng) -> Samples:
    """`speech` at -26 dB in a noise by chance. `others`: what a radio may say meanwhile."""
    if rng.random() < _COLOURED:
        speech = sounds.to_level(_coloured(speech, rng), -26.0)
    names = list(CONDITIONS)
    name = names[int(rng.choice(len(names), p=[CONDITIONS[one][0] for one in names]))]
    ratio = rng.uniform(*CONDITIONS[name][1:])

    def noise(samples: int, chance: Rng) -> Sound:
        return _noise(name, samples, others, chance)

    mixed = sounds.int16(sounds.in_noise(speech, noise, ratio, rng, _BEFORE_S))
    front = FrontEnd()
    treated = np.concatenate([front.process(mixed), front.flush()])
    begin = int((_BEFORE_S - rng.uniform(*_AROUND_S)) * RATE)
    end = int((_BEFORE_S + rng.uniform(*_AROUND_S)) * RATE) + len(speech)
    return treated[begin:end]


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
    kept = _stretches(name)[int(rng.integers(_KEPT))]
    return np.roll(kept, int(rng.integers(len(kept))))[:samples]


@cache
def _stretches(name: str) -> list[Sound]:
    rng = np.random.default_rng([2020, *map(ord, name)])
    return [noises.NOISES[name](_KEPT_S * RATE, rng) for _ in range(_KEPT)]


def _coloured(speech: Sound, rng: Rng) -> Sound:
    """Another microphone: some dB more or less here and there."""
    gains = rng.normal(0, _COLOUR_DB, len(_HERTZ))
    curve = np.interp(np.fft.rfftfreq(len(speech), 1 / RATE), _HERTZ, gains - gains.mean())
    return np.fft.irfft(np.fft.rfft(speech) * 10 ** (curve / 20), len(speech)).astype(np.float32)
