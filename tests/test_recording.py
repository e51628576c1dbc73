"""Sound files as the microphone."""

from __future__ import annotations

import contextlib

import numpy as np
import pytest
import soundfile

from assistant.core.trouble import BadInput
from assistant.ears.recording import BLOCK, Recording


def tone(rate: int, seconds: float = 1.0) -> np.ndarray:
    return (8000 * np.sin(2 * np.pi * 440 * np.arange(round(rate * seconds)) / rate)).astype(np.int16)


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg"])
@pytest.mark.parametrize("rate", [16_000, 22_050, 44_100, 48_000])
def test_every_usual_file_becomes_16_khz_mono_in_blocks(tmp_path, ending, rate) -> None:
    file = tmp_path / f"sound.{ending}"
    soundfile.write(file, tone(rate), rate)
    blocks = list(Recording(file).blocks())
    assert all(len(block) == BLOCK and block.dtype == np.int16 for block in blocks[:-1])
    assert sum(map(len, blocks)) == pytest.approx(16_000, abs=5)
    sound = np.concatenate(blocks).astype(float)
    assert np.argmax(np.abs(np.fft.rfft(sound[:16_000 - 16]))) == pytest.approx(440, abs=2)


def test_two_channels_become_their_mean(tmp_path) -> None:
    file = tmp_path / "stereo.wav"
    soundfile.write(file, np.stack([tone(16_000), np.zeros(16_000, np.int16)], axis=1), 16_000)
    sound = np.concatenate(list(Recording(file).blocks())).astype(float)
    assert np.abs(sound).max() == pytest.approx(4000, rel=0.01)


def test_a_recording_can_be_read_from_the_beginning_again(tmp_path) -> None:
    file = tmp_path / "sound.wav"
    soundfile.write(file, tone(16_000), 16_000)
    recording = Recording(file)
    first, second = (np.concatenate(list(recording.blocks())) for _ in range(2))
    assert np.array_equal(first, second)
    assert recording.seconds == 1.0


def test_a_file_that_is_cut_off_is_told_of_or_ends_early(tmp_path) -> None:
    whole = tmp_path / "whole.flac"
    soundfile.write(whole, np.random.default_rng(1).integers(-9000, 9000, 32_000).astype(np.int16), 16_000)
    torn = tmp_path / "torn.flac"
    torn.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    heard = 0
    with contextlib.suppress(BadInput):
        for block in Recording(torn).blocks():
            heard += len(block)
    assert heard < 32_000
