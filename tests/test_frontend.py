"""The treatment of the sound before the recogniser: aligned, harmless in quiet, takes tones and steady noise down."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.ears.frontend import FrontEnd

RATE = 16_000
DELAY = 1_536  # 96 ms: a window of 1024 and one of 512 samples


def treated(sound: NDArray[np.int16], blocks: list[int]) -> NDArray[np.int16]:
    front, out, at = FrontEnd(), [], 0
    for number in range(len(sound)):
        if at >= len(sound):
            break
        size = blocks[number % len(blocks)]
        out.append(front.process(sound[at : at + size]))
        at += size
        assert 0 <= at - sum(map(len, out)) <= DELAY + size
    return np.concatenate([*out, front.flush()])


def noise(seconds: float, level: float = 1000) -> NDArray[np.int16]:
    return np.random.default_rng(3).normal(0, level, int(seconds * RATE)).astype(np.int16)


def voice(seconds: float) -> NDArray[np.float64]:
    """A tone complex whose pitch and loudness move like those of speech."""
    time = np.arange(int(seconds * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(120 + 40 * np.sin(2 * np.pi * 0.9 * time)) / RATE
    loud = np.maximum(0, np.sin(2 * np.pi * 1.7 * time)) ** 0.5
    return 6000 * loud * sum(np.sin(order * phase) / order for order in range(1, 20)) / 2


def power(sound: NDArray[np.generic]) -> float:
    return float(np.square(sound.astype(np.float64)).mean())


@pytest.mark.parametrize("blocks", [[800], [1], [160, 4001, 37], [100_000]])
def test_every_sample_comes_out_in_its_place_whatever_the_blocks(blocks) -> None:
    sound = noise(0.8)
    sound[6000:6080] = 20_000
    out = treated(sound, blocks)
    assert len(out) == len(sound)
    assert np.array_equal(out, treated(sound, [800]))
    lags = range(-200, 201)
    likeness = [float(np.dot(sound[400:-400].astype(float), np.roll(out, lag)[400:-400])) for lag in lags]
    assert lags[int(np.argmax(likeness))] == 0


def test_a_voice_in_quiet_stays_as_it_is() -> None:
    spoken = voice(4)
    sound = (spoken + np.random.default_rng(1).normal(0, 20, len(spoken))).astype(np.int16)
    out = treated(sound, [800]).astype(float)
    error = power(out[RATE:] - sound[RATE:]) / power(sound[RATE:])
    assert error < 0.02


@pytest.mark.parametrize("beats", [False, True])
def test_a_buzzer_is_taken_out_and_the_voice_over_it_is_not(beats) -> None:
    spoken = voice(6)
    time = np.arange(len(spoken)) / RATE
    tone = 5000 * np.sin(2 * np.pi * 1830 * time) * ((time * 2 % 1 < 0.5) if beats else 1)
    background = np.random.default_rng(2).normal(0, 30, len(spoken))
    later = slice(3 * RATE, None)
    alone = treated((tone + background).astype(np.int16), [800])[later]
    assert power(alone) < 0.05 * power(tone[later])
    both = treated((spoken + tone + background).astype(np.int16), [800])[later].astype(float)
    assert power(both - spoken[later]) < 0.3 * power(tone[later])


def test_steady_noise_goes_down_by_at_most_eight_decibels() -> None:
    before = noise(5)
    after = treated(before, [800])
    share = power(after[3 * RATE :]) / power(before[3 * RATE :])
    assert 0.4**2 * 0.9 < share < 0.4


def test_a_muted_microphone_does_not_unlearn_the_noise() -> None:
    before = np.concatenate([noise(4), np.zeros(4 * RATE, np.int16), noise(0.4)])
    after = treated(before, [800])
    assert not after[5 * RATE : 7 * RATE].any()
    assert power(after[-4000:]) < 0.45 * power(before[-4000:])


def test_what_was_learnt_is_kept_over_a_flush() -> None:
    front = FrontEnd()
    front.process(noise(4))
    front.flush()
    again = np.concatenate([front.process(noise(0.5)), front.flush()])
    assert len(again) == RATE // 2
    assert power(again[2000:]) < 0.45 * power(noise(0.5)[2000:])
