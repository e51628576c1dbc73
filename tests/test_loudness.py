"""How loud words were, on tones whose level is known by formula: a full-scale sine has -3.01 dB of full scale."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.ears.emphasis import Emphasis
from assistant.ears.loudness import Loudness

RATE = 16_000


def measured(amplitude: float, noise: float = 10.0):
    """A second of faint noise and one of a 440 Hz tone, as 16 bits hold them, measured over the tone."""
    noise_before = np.random.default_rng(1).normal(0, noise, RATE)
    tone = amplitude * 32768 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    loudness = Loudness()
    loudness.feed(np.clip(np.concatenate([noise_before, tone]), -32768, 32767).astype(np.int16))
    return loudness.of([(RATE, 2 * RATE)])


@pytest.mark.parametrize("amplitude", [0.9, 0.1, 0.01])
def test_the_level_of_a_tone_is_what_its_amplitude_says(amplitude) -> None:
    assert measured(amplitude).speech_db == pytest.approx(20 * np.log10(amplitude) - 3.01, abs=0.1)


def test_the_ratio_to_the_noise_is_what_the_levels_say() -> None:
    found = measured(0.1, noise=327.68)  # 1 % of full scale: -40 dB
    assert found.snr_db == pytest.approx(-23.01 + 40, abs=0.7)


def test_a_microphone_that_is_silent_between_two_utterances_knows_no_noise() -> None:
    """A headset with a gate; the first utterance is not the noise around the second one."""
    tone = 3276.8 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    loudness = Loudness()
    for begin in (RATE, 3 * RATE):
        loudness.feed(np.concatenate([np.zeros(RATE), tone]).astype(np.int16))
        assert loudness.of([(begin, begin + RATE)]).snr_db is None


@pytest.mark.parametrize(("amplitude", "share"), [(0.5, 0.0), (0.99, 0.0), (2.0, 1.0)])
def test_sound_beyond_full_scale_is_told_as_clipped(amplitude, share) -> None:
    assert measured(amplitude).clipped == share


@pytest.mark.parametrize(("signs", "gain"), [((1, 1), 0.05), ((1, -1), 1.95)], ids=["steady", "as fast as can be"])
def test_raising_the_high_frequencies_has_the_gain_of_its_formula(signs, gain) -> None:
    """1 - 0.95 at 0 Hz and 1 + 0.95 at half the rate, whatever the blocks."""
    sound = np.tile(np.array(signs, np.int16) * 16384, 400)
    raised = Emphasis()
    parts = [raised(block) for block in (sound[:1], sound[1:7], sound[7:7], sound[7:])]
    assert np.abs(np.concatenate(parts)[1:]) == pytest.approx(0.5 * gain)
