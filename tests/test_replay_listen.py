"""Replay with sound: what was kept of the driver is heard again, on a virtual sound card."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from card import RECORDED_HZ, Card

from assistant.cli import run
from assistant.core.trouble import BadInput
from assistant.log import sound_folder
from assistant.mouth.sound import decoded
from tests.test_report import TONE_HZ, spoken_check

WINDOW = RECORDED_HZ // 20


def _windows_with_the_tone(raw: bytes) -> int:
    """How many twentieths of a second have the kept tone as their strongest frequency, clearly above silence."""
    samples = np.frombuffer(raw[: len(raw) // (2 * WINDOW) * 2 * WINDOW], np.int16).reshape(-1, WINDOW)
    spectra = np.abs(np.fft.rfft(samples * np.hanning(WINDOW), axis=1))
    loud = np.abs(samples).max(axis=1) > 1000
    return int((loud & (np.abs(spectra.argmax(axis=1) * RECORDED_HZ / WINDOW - TONE_HZ) <= 20)).sum())


def test_a_kept_utterance_is_heard_in_a_replay(card: Card, tmp_path: Path) -> None:
    log = spoken_check(tmp_path, whole=False)
    heard = tmp_path / "heard.raw"
    with card.recorded(heard):
        assert run(["replay", str(log), "--from", "governor-cut-out", "--listen"]) == 0
    assert 14 <= _windows_with_the_tone(heard.read_bytes()) <= 24  # one second


def test_a_sound_file_is_decoded_as_it_is_and_other_bytes_are_refused(tmp_path: Path) -> None:
    log = spoken_check(tmp_path)
    (flac,) = sound_folder(log).glob("*.flac")
    samples, rate = soundfile.read(flac, dtype="int16")
    sound = decoded(flac.read_bytes())
    assert (sound.rate, sound.samples.tolist()) == (rate, samples.tolist())
    with pytest.raises(BadInput, match="can't be played"):
        decoded(b"no sound")
