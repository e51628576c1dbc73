"""Sound files as the microphone."""

from __future__ import annotations

import struct
from pathlib import Path

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
    assert np.argmax(np.abs(np.fft.rfft(sound[: 16_000 - 16]))) == pytest.approx(440, abs=2)


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


@pytest.mark.parametrize("ending", ["wav", "flac"])
def test_a_file_that_is_cut_off_gives_what_is_there_and_then_says_so(tmp_path, ending) -> None:
    whole = tmp_path / f"whole.{ending}"
    soundfile.write(whole, np.random.default_rng(1).integers(-9000, 9000, 64_000).astype(np.int16), 16_000)
    torn = tmp_path / f"torn.{ending}"
    torn.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    heard: list[np.ndarray] = []
    with pytest.raises(BadInput, match=r"cut off|damaged"):
        heard.extend(Recording(torn).blocks())
    assert 0 < sum(map(len, heard)) <= 32_000


@pytest.mark.parametrize("size", [0x7FFFFFFF, 0xFFFFFFFF])
def test_a_size_that_the_recording_program_did_not_know_is_no_damage(tmp_path, size) -> None:
    file = tmp_path / "piped.wav"
    soundfile.write(file, tone(16_000), 16_000)
    content = bytearray(file.read_bytes())
    at = content.index(b"data") + 4
    content[at : at + 4] = struct.pack("<I", size)
    file.write_bytes(content)
    assert sum(map(len, Recording(file).blocks())) == 16_000


def write_8_khz(file: Path) -> None:
    soundfile.write(file, tone(8000), 8000)


def write_nothing(file: Path) -> None:
    soundfile.write(file, np.zeros(0, np.int16), 16_000)


def write_text(file: Path) -> None:
    file.write_text("no sound")


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (write_8_khz, "8000 Hz"),
        (write_nothing, "no sound at all"),
        (write_text, "not a sound file"),
        (Path.touch, "not a sound file"),
        (Path.mkdir, "is a folder"),
        (lambda _file: None, "no file"),
    ],
    ids=["8 kHz", "no samples", "text", "no bytes", "folder", "nothing there"],
)
def test_what_can_not_be_used_is_refused_with_the_reason_before_the_first_block(tmp_path, make, says) -> None:
    file = tmp_path / "sound.wav"
    make(file)
    with pytest.raises(BadInput, match=says) as trouble:
        Recording(file)
    assert str(file) in str(trouble.value)


def test_samples_that_are_no_numbers_are_silence(tmp_path) -> None:
    file = tmp_path / "sound.wav"
    sound = (tone(16_000) / 32768).astype(np.float32)
    sound[100:200] = np.nan
    soundfile.write(file, sound, 16_000, subtype="FLOAT")
    heard = np.concatenate(list(Recording(file).blocks()))
    assert not heard[100:200].any()
    assert heard[200:].any()
