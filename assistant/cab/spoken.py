"""Ears that really hear: the simulated driver's words are spoken by a voice, in the noise of a cab, to the recogniser.

Law: only sound passes between them; the recogniser is the one of a real check. While nobody speaks the microphone
rests: that time is left out of the sound, as a stretch between two utterances, never inside one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assistant.core.events import Heard
from assistant.core.trouble import BadInput, Missing
from assistant.ears.recogniser import Recogniser
from assistant.mouth.voice import Silent, Voice
from assistant.vehicle.noise import NOISES, RATE, Noise, active_level, rms_level

BEFORE_S = 1.2
AFTER_S = 2.5
"""Seconds of noise before and after the words; the recogniser ends an utterance by then."""
SPEECH_DB = -26.0
QUIET_DB = 45.0
"""dB from the speech down to the hiss of a quiet microphone."""
BLOCK = RATE // 20


def noise_of(text: str) -> tuple[Noise, float]:
    """From "diesel:10": the noise and how many dB it is below the speech. Raises BadInput for anything else."""
    name, _, ratio = text.partition(":")
    try:
        below_db = float(ratio)
    except ValueError:
        below_db = float("nan")
    if name not in NOISES or not -10.0 <= below_db <= 60.0:
        raise BadInput(
            f"There is no noise {text}. Write a name and how many dB it is below the speech (-10 to 60), as in "
            f"diesel:10. The names are {', '.join(NOISES)}."
        )
    return NOISES[name], below_db


class SpokenEars:
    """`noise`: what else is heard and how many dB below the speech. `seed`: of the noise."""

    def __init__(self, recogniser: Recogniser, voice: Voice, noise: tuple[Noise, float] | None, seed: int) -> None:
        self._recogniser = recogniser
        self._voice = voice
        self._noise = noise
        self._chance = np.random.default_rng(seed)
        self._fed = 0

    def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
        """Raises Missing when there is no voice."""
        rendered = self._voice.render(text)
        if isinstance(rendered, Silent):
            raise Missing(f"{rendered.reason} Or let the driver type: --typed.")
        speech = (rendered.at_rate(RATE).samples / 32768).astype(np.float32)
        begins = max(at_ms * RATE // 1000, self._fed)
        first = max(self._fed, begins - round(BEFORE_S * RATE))
        mixed = self._mixed(speech, before=begins - first)
        heard = self._feed(mixed, first)
        return 1000 * (begins + len(speech)) // RATE, heard

    def _mixed(self, speech: NDArray[np.float32], before: int) -> NDArray[np.int16]:
        track = np.zeros(before + len(speech) + round(AFTER_S * RATE), np.float32)
        track[before : before + len(speech)] = speech * 10 ** ((SPEECH_DB - active_level(speech)) / 20)
        noise, below_db = self._noise or (_white, QUIET_DB)
        around = noise(len(track), self._chance)
        track += around * 10 ** ((SPEECH_DB - below_db - rms_level(around)) / 20)
        return np.clip(np.round(track * 32768), -32768, 32767).astype(np.int16)

    def _feed(self, sound: NDArray[np.int16], first: int) -> list[tuple[int, Heard]]:
        heard: list[tuple[int, Heard]] = []
        for at in range(0, len(sound), BLOCK):
            block = sound[at : at + BLOCK]
            told = self._recogniser.feed(block, first=first + at)
            self._fed = first + at + len(block)
            heard += [(1000 * self._fed // RATE, each) for each in told]
        return heard + [(1000 * self._fed // RATE, each) for each in self._recogniser.finish()]


def _white(samples: int, chance: np.random.Generator) -> NDArray[np.float32]:
    return chance.normal(0, 1, samples).astype(np.float32)
