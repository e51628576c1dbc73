"""The recogniser on real sound: one utterance each, with times, whatever the blocks; silence and noise are nothing."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
import soundfile

from assistant import assets
from assistant.cli import build
from assistant.core.events import Heard
from assistant.core.hearing import understand

FIXTURES = assets.demo().parent
FOLDER = FIXTURES / "answers"
SAID = tomllib.loads((FOLDER / "manifest.toml").read_text(encoding="utf-8"))["said"]
RATE = 16_000


def _piece(first: int, last: int) -> tuple[np.ndarray, int]:
    """The answers from a second before the `first` saying to three after the beginning of the `last` one."""
    begins = SAID[first]["at_ms"] - 1000
    track, _ = soundfile.read(
        FOLDER / "recording.flac", dtype="int16", start=begins * 16, stop=(SAID[last]["at_ms"] + 4500) * 16
    )
    return track, begins


def hear(recogniser, sound: np.ndarray, block: int = 800) -> list[Heard]:
    heard = [one for at in range(0, len(sound), block) for one in recogniser.feed(sound[at : at + block])]
    return heard + recogniser.finish()


def test_words_have_the_times_at_which_they_were_spoken(recogniser) -> None:
    sound, begins = _piece(0, 2)
    heard = hear(recogniser, sound)
    assert [one.text for one in heard] == ["brakes are set", "wheels are chocked", "yes"]
    for one, said in zip(heard, SAID[:3], strict=True):
        assert one.start_ms + begins == pytest.approx(said["at_ms"], abs=120)
        assert one.words[0].start_ms == one.start_ms
        assert one.words[-1].end_ms == one.end_ms
    assert heard[0].snr_db is not None
    assert heard[0].snr_db > 10


def test_the_size_of_the_blocks_changes_nothing(recogniser) -> None:
    sound, _ = _piece(4, 4)
    texts = [[one.text for one in hear(recogniser, sound, block)] for block in (160, 800, 7777)]
    assert texts[0] == texts[1] == texts[2] == ["ninety two correction eighty two"]


def test_two_needles_with_a_breath_between_them_are_one_utterance(recogniser) -> None:
    both = next(number for number, said in enumerate(SAID) if "secondary" in said["text"])
    (heard,) = hear(recogniser, _piece(both, both)[0])
    readings = understand(heard, build.language(), "psi").readings
    assert [(one.needle, one.value) for one in readings] == [("primary", 122), ("secondary", 121)]
    assert readings[0].at_ms is not None
    assert readings[0].at_ms < readings[1].at_ms


def test_silence_and_noise_are_nothing(recogniser) -> None:
    rng = np.random.default_rng(7)
    for sound in (np.zeros(20 * RATE, np.int16), rng.normal(0, 400, 20 * RATE).astype(np.int16)):
        for heard in hear(recogniser, sound):
            assert understand(heard, build.language(), "psi").kind == "unclear"


def test_a_hole_in_the_sound_is_told_with_the_utterance(recogniser) -> None:
    sound, _ = _piece(4, 4)
    middle = 2 * RATE
    heard = recogniser.feed(sound[:middle])
    heard += recogniser.feed(sound[middle:], gap=True)
    heard += recogniser.finish()
    assert any(one.gap for one in heard)


def test_times_go_on_over_many_utterances_and_pauses(recogniser) -> None:
    sound, _ = _piece(2, 2)
    pauses = (1, 4, 0, 11, 2)
    heard = hear(recogniser, np.concatenate([np.append(sound, np.zeros(pause * RATE, np.int16)) for pause in pauses]))
    assert [one.text for one in heard] == ["yes"] * len(pauses)
    steps = np.diff([one.start_ms for one in heard])
    assert steps == pytest.approx([len(sound) / 16 + 1000 * pause for pause in pauses[:-1]], abs=60)


@pytest.mark.parametrize("pause_s", [0.4, 0.5, 0.6])
def test_a_pause_inside_a_reading_does_not_cut_it(recogniser, pause_s) -> None:
    # A person's "ninety two" (see audio_fixtures/human) with a hole between the words, in the noise of that recording.
    file = FIXTURES / "human" / "ninety-two.flac"
    sound, _ = soundfile.read(file, dtype="int16")
    (whole,) = hear(recogniser, sound)
    between = (whole.words[0].end_ms + whole.words[1].start_ms) * 8
    noise = np.resize(sound[: RATE // 10], round(pause_s * RATE))
    (paused,) = hear(recogniser, np.concatenate([sound[:between], noise, sound[between:]]))
    for one in (whole, paused):  # "ninety two" or, by its letters, "nine two": the same reading
        assert [read.value for read in understand(one, build.language(), "psi").readings] == [92]
    gap_ms = paused.words[1].start_ms - paused.words[0].end_ms
    assert gap_ms == pytest.approx(1000 * pause_s, abs=120)


def _in_two(file: str, pause_s: float, model) -> np.ndarray:
    """A person's two words, with a pause between them that is not on the recording."""
    words, _ = soundfile.read(FIXTURES / "human" / file, dtype="int16")
    noise = np.random.default_rng(3).normal(0, 8, 4 * RATE).astype(np.int16)
    (whole,) = hear(build.recogniser(model), np.concatenate([noise[:RATE], words, noise[: 2 * RATE]]))
    cut = (whole.words[0].end_ms + whole.words[1].start_ms) // 2 * RATE // 1000 - RATE
    return np.concatenate([noise[:RATE], words[:cut], noise[: int(pause_s * RATE)], words[cut:], noise[: 2 * RATE]])


def test_a_figure_that_comes_late_gives_an_utterance_that_goes_on_with_its_number(recogniser, speech_model) -> None:
    """Recording: Debian's package pocketsphinx-testdata."""
    sound = _in_two("ninety-two.flac", 0.75, speech_model)
    recogniser.joining = lambda: True
    first, second = hear(recogniser, sound)
    assert (first.text, first.goes_on) == ("ninety", False)
    assert second.goes_on
    assert [one.value for one in understand(second, build.language(), "psi").readings] == [92]
    assert second.start_ms == pytest.approx(first.start_ms, abs=60)


def test_where_nothing_can_be_joined_the_pause_is_waited_out(recogniser, speech_model) -> None:
    (heard,) = hear(recogniser, _in_two("ninety-two.flac", 0.75, speech_model))
    assert [one.value for one in understand(heard, build.language(), "psi").readings] == [92]
