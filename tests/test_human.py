"""Human-recorded speech through the whole ears: digits arrive right, a book and playing cards are no readings.

Source: Debian's package pocketsphinx-testdata (recordings and transcriptions); see audio_fixtures/human/manifest.toml.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from assistant.cli import build
from assistant.core.events import Heard
from assistant.core.hearing import understand
from assistant.ears.recogniser import Recogniser
from assistant.ears.recording import Recording

FOLDER = Path(__file__).resolve().parent.parent / "audio_fixtures" / "human"
SOUNDS = tomllib.loads((FOLDER / "manifest.toml").read_text(encoding="utf-8"))["sound"]
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def hear(recogniser: Recogniser, name: str) -> list[Heard]:
    heard = [utterance for block in Recording(FOLDER / name).blocks() for utterance in recogniser.feed(block)]
    return heard + recogniser.finish()


@pytest.mark.parametrize("sound", [sound for sound in SOUNDS if "value" in sound], ids=lambda sound: sound["text"])
def test_a_spoken_number_is_a_reading_with_its_value(recogniser, sound) -> None:
    (heard,) = hear(recogniser, sound["file"])
    understood = understand(heard, build.language(), "psi")
    assert [reading.value for reading in understood.readings] == [sound["value"]]


def test_a_digit_string_is_heard_digit_by_digit_and_is_no_gauge_reading(recogniser) -> None:
    heard = hear(recogniser, "two-nine-three-four-zero.flac")
    assert [word for utterance in heard for word in utterance.text.split() if word in DIGITS] == [
        "two",
        "nine",
        "three",
        "four",
        "zero",
    ]
    assert all(not understand(utterance, build.language(), "psi").readings for utterance in heard)


@pytest.mark.parametrize("sound", [sound for sound in SOUNDS if "value" not in sound], ids=lambda sound: sound["file"])
def test_speech_that_is_no_reading_gives_none(recogniser, sound) -> None:
    for heard in hear(recogniser, sound["file"]):
        understood = understand(heard, build.language(), "psi")
        assert understood.kind == "unclear"
        assert understood.readings == ()
