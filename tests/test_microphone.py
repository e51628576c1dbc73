"""The microphone: numbered blocks, the half duplex gate, gaps, levels, and devices that vanish."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from card import Card, HandCard, wait_until
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from assistant.core.trouble import Missing
from assistant.ears.level import SILENCE_DB, Level, advise, allows_barge_in, leak_db, level_of, speech_db
from assistant.ears.microphone import BLOCK, RATE_HZ, Block, Microphone
from assistant.mouth.player import Player
from assistant.mouth.sound import Sound
from assistant.soundcard.portaudio import SoundCard

Samples = NDArray[np.int16]


def noise(frames: int, amplitude: int = 9000, seed: int = 1) -> Samples:
    return np.random.default_rng(seed).integers(-amplitude, amplitude, frames, dtype=np.int16)


def tone(seconds: float, hertz: float, rate: int, amplitude: float = 8000) -> Samples:
    t = np.arange(round(seconds * rate)) / rate
    return (amplitude * np.sin(2 * np.pi * hertz * t)).astype(np.int16)


def drained(microphone: Microphone) -> list[Block]:
    return [microphone.blocks.get() for _ in range(microphone.blocks.qsize())]


class ByHand:
    """A microphone on a card that is turned by hand."""

    def __init__(self, rate: int | None = None, channels: int = 1) -> None:
        self.card = HandCard(rate, channels)
        self.lost: list[str] = []
        self.microphone = Microphone(self.card, lost=self.lost.append)  # type: ignore[arg-type]
        self.microphone.open()

    def push(self, samples: Samples, at: int = BLOCK, overflow: bool = False) -> list[Block]:
        """In pieces of `at` samples; what the ears get of it."""
        for start in range(0, len(samples), at):
            self.card.push(samples[start : start + at], overflow=overflow)
        return drained(self.microphone)


@pytest.fixture
def by_hand() -> Iterator[ByHand]:
    made = ByHand()
    yield made
    made.microphone.close()


# --- blocks ----------------------------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(lengths=st.lists(st.integers(1, 2500), min_size=1, max_size=12))
def test_whatever_the_driver_delivers_comes_out_unchanged_in_numbered_blocks_of_50_ms(lengths: list[int]) -> None:
    made = ByHand()
    sent = [noise(length, seed=seed) for seed, length in enumerate(lengths)]
    blocks = [block for piece in sent for block in made.push(piece, at=len(piece))]
    made.microphone.close()
    assert [len(block.samples) for block in blocks] == [BLOCK] * (sum(lengths) // BLOCK)
    assert [block.first for block in blocks] == [BLOCK * n for n in range(len(blocks))]
    assert not any(block.gap for block in blocks)
    if blocks:
        received = np.concatenate([block.samples for block in blocks])
        np.testing.assert_array_equal(received, np.concatenate(sent)[: len(received)])


def test_a_stereo_microphone_is_heard_as_the_mean_of_its_sides(by_hand: ByHand) -> None:
    sides = np.stack([np.full(BLOCK, 1000), np.full(BLOCK, 3000)], axis=1).astype(np.int16)
    by_hand.microphone.take(sides, time.monotonic(), overflow=False)
    assert (drained(by_hand.microphone)[0].samples == 2000).all()


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_microphone_of_another_rate_is_heard_at_16_khz_with_the_same_pitch_and_length(rate: int) -> None:
    made = ByHand(rate=rate)
    blocks = made.push(tone(2.0, 1000.0, rate), at=rate // 20)
    made.microphone.close()
    heard = np.concatenate([block.samples for block in blocks])
    assert len(heard) / RATE_HZ == pytest.approx(2.0, abs=0.1)
    spectrum = np.abs(np.fft.rfft(heard[:RATE_HZ]))
    assert np.argmax(spectrum) == pytest.approx(1000, abs=1)
    assert speech_db([level_of(heard)]) == pytest.approx(20 * np.log10(8000 / 2**0.5 / 32768), abs=0.3)


def test_the_moment_of_a_sample_follows_its_number(by_hand: ByHand) -> None:
    for n in range(20):
        by_hand.microphone.take(noise(BLOCK)[:, np.newaxis], 50.0 + n * 0.05, overflow=False)
    for block in drained(by_hand.microphone):
        assert block.captured_at == pytest.approx(50.0 + block.first / RATE_HZ, abs=1e-6)


def test_a_device_clock_that_runs_fast_is_followed(by_hand: ByHand) -> None:
    """100 parts per million, a poor but possible sound device, for ten minutes: 60 ms if it were not followed."""
    for n in range(12_000):
        by_hand.microphone.take(np.zeros((BLOCK, 1), np.int16), 50.0 + n * 0.05 * (1 - 1e-4), overflow=False)
    last = drained(by_hand.microphone)[-1]
    assert last.captured_at == pytest.approx(50.0 + 11_999 * 0.05 * (1 - 1e-4), abs=0.001)


# --- gaps ------------------------------------------------------------------------------------------------------------


def test_an_overflow_marks_the_block_behind_it_and_skips_the_numbers_of_what_was_lost(by_hand: ByHand) -> None:
    take = by_hand.microphone.take
    take(noise(1000)[:, np.newaxis], 50.0, overflow=False)
    take(noise(BLOCK)[:, np.newaxis], 50.0 + 4000 / RATE_HZ, overflow=True)
    blocks = drained(by_hand.microphone)
    assert [(block.first, len(block.samples), block.gap) for block in blocks] == [
        (0, BLOCK, False),
        (BLOCK, 200, False),
        (4000, BLOCK, True),
    ]
    assert by_hand.microphone.gaps == 1


def test_an_overflow_whose_time_stamp_makes_no_sense_never_turns_the_numbers_back(by_hand: ByHand) -> None:
    take = by_hand.microphone.take
    take(noise(2 * BLOCK)[:, np.newaxis], 50.0, overflow=False)
    take(noise(BLOCK)[:, np.newaxis], 20.0, overflow=True)
    assert [(block.first, block.gap) for block in drained(by_hand.microphone)] == [
        (0, False),
        (BLOCK, False),
        (2 * BLOCK, True),
    ]


def test_a_device_that_comes_back_goes_on_behind_a_gap_in_the_time_that_passed(by_hand: ByHand) -> None:
    by_hand.push(noise(4 * BLOCK))
    by_hand.card.vanish()
    assert wait_until(lambda: by_hand.card.opened == 2 and by_hand.microphone.is_open)
    blocks = by_hand.push(noise(2 * BLOCK))
    assert by_hand.lost == ["The microphone was lost: the device or its sound server went away."]
    assert [block.gap for block in blocks] == [True, False]
    missing = blocks[0].first - 4 * BLOCK
    assert missing > 0.3 * RATE_HZ, "it was away for half a second at least"
    assert by_hand.microphone.gaps == 1


# --- the half duplex gate --------------------------------------------------------------------------------------------


def test_a_muted_microphone_delivers_zeros_of_the_same_length_and_goes_on_counting(by_hand: ByHand) -> None:
    by_hand.microphone.muted = True
    blocks = by_hand.push(noise(4 * BLOCK))
    assert [block.first for block in blocks] == [0, BLOCK, 2 * BLOCK, 3 * BLOCK]
    assert all(len(block.samples) == BLOCK and not block.samples.any() for block in blocks)


def test_the_level_is_measured_also_while_muted(by_hand: ByHand) -> None:
    by_hand.microphone.muted = True
    assert level_of(by_hand.push(noise(BLOCK))[0].raw).rms_db > -25


def test_the_ears_open_250_milliseconds_of_captured_sound_after_the_mouth_closed(by_hand: ByHand) -> None:
    sent = noise(RATE_HZ)
    by_hand.microphone.muted = True
    by_hand.microphone.muted = False
    closed = time.monotonic()
    for n in range(0, RATE_HZ, BLOCK):
        by_hand.microphone.take(sent[n : n + BLOCK, np.newaxis], closed + n / RATE_HZ, overflow=False)
    heard = np.concatenate([block.samples for block in drained(by_hand.microphone)])
    first = int(np.flatnonzero(heard)[0])
    assert first / RATE_HZ == pytest.approx(0.25, abs=0.01)
    np.testing.assert_array_equal(heard[first:], sent[first:])


def test_own_voice_that_a_stalled_driver_delivers_late_is_not_heard(by_hand: ByHand) -> None:
    """Captured while the mouth was open, delivered after it had closed: its time stamp counts."""
    by_hand.microphone.muted = True
    by_hand.microphone.muted = False
    closed = time.monotonic()
    for n in range(20):
        by_hand.microphone.take(noise(BLOCK)[:, np.newaxis], closed - 1.0 + n * 0.05, overflow=False)
    assert not any(block.samples.any() for block in drained(by_hand.microphone))


def test_a_microphone_that_was_never_muted_is_open_from_the_first_sample(by_hand: ByHand) -> None:
    sent = noise(BLOCK)
    np.testing.assert_array_equal(by_hand.push(sent)[0].samples, sent)


# --- levels ----------------------------------------------------------------------------------------------------------


def levels(*decibels: float, clipped: bool = False) -> list[Level]:
    return [Level(each, each + 10, clipped) for each in decibels]


def test_levels_are_decibels_of_full_scale() -> None:
    """A sine at full scale has a root mean square 3.01 dB below its peak (sqrt 2; any textbook of acoustics)."""
    full = level_of(tone(1.0, 1000, RATE_HZ, amplitude=32767))
    assert full.peak_db == pytest.approx(0.0, abs=0.01)
    assert full.rms_db == pytest.approx(-3.01, abs=0.01)
    assert full.clipped
    assert level_of(np.zeros(800, np.int16)) == Level(SILENCE_DB, SILENCE_DB, False)
    assert level_of(np.zeros(0, np.int16)).rms_db == SILENCE_DB
    assert level_of(np.full(10, -32768, np.int16)).peak_db == pytest.approx(0.0, abs=0.01)


def test_pauses_do_not_lower_the_level_of_what_was_said() -> None:
    assert speech_db(levels(-20, -20, -96, -96, -96, -96)) == pytest.approx(-20)


@pytest.mark.parametrize(
    ("quiet", "spoken", "advice"),
    [
        (levels(-60), levels(-20, -25, -60), "good"),
        (levels(-80), levels(-50, -52, -80), "low"),
        (levels(-60), levels(-3, -4, -60, clipped=True), "clipping"),
        (levels(-40), levels(-38, -39, -40), "no speech"),
        (levels(-96), levels(-96, -96, -96), "no sound"),
        (levels(-60), [], "no sound"),
    ],
)
def test_the_advice_says_what_is_wrong_with_the_level(
    quiet: Sequence[Level], spoken: Sequence[Level], advice: str
) -> None:
    assert advise(quiet, spoken) == advice


@pytest.mark.parametrize(
    ("own", "leak", "barge_in"),
    [(levels(-20, -20, -20), 0.0, False), (levels(-45, -45, -45), -25.0, True), (levels(-68, -68, -68), None, True)],
)
def test_the_leak_compares_the_assistants_voice_with_the_drivers_in_the_same_microphone(
    own: Sequence[Level], leak: float | None, barge_in: bool
) -> None:
    measured = leak_db(levels(-70), own, levels(-20, -20, -70))
    assert measured == (None if leak is None else pytest.approx(leak))
    assert allows_barge_in(measured) == barge_in


# --- on the virtual sound card ---------------------------------------------------------------------------------------


@pytest.fixture
def live(card: Card) -> Iterator[Microphone]:
    del card
    microphone = Microphone(SoundCard())
    microphone.open()
    microphone.blocks.get(timeout=5)
    yield microphone
    microphone.close()


def listened(microphone: Microphone, seconds: float) -> Samples:
    blocks = [microphone.blocks.get(timeout=5) for _ in range(round(seconds / 0.05))]
    assert not any(block.gap for block in blocks)
    return np.concatenate([block.samples for block in blocks])


def test_clicks_a_third_of_a_second_apart_are_captured_a_third_of_a_second_apart(card: Card, live: Microphone) -> None:
    """The numbers of the samples are the clock of a timed hold."""
    clicks = np.zeros(48_000 * 2, np.int16)
    clicks[4800::16_000] = 30_000
    card.speak_into_microphone(clicks, 48_000, ahead_ms=1000)
    heard = np.abs(listened(live, 2.0).astype(int))
    found = [n for n in np.flatnonzero(heard > 3000) if n == 0 or heard[max(0, n - 50) : n].max(initial=0) <= 3000]
    assert len(found) >= 4
    assert np.diff(found) == pytest.approx(RATE_HZ / 3, abs=2)


def test_a_microphone_behind_a_restarted_sound_server_is_heard_again(card: Card) -> None:
    lost: list[str] = []
    back: list[bool] = []
    microphone = Microphone(SoundCard(), None, lost.append, lambda: back.append(True))
    microphone.open()
    first = microphone.blocks.get(timeout=5)
    card.unplug()
    assert wait_until(lambda: lost)
    drained(microphone)
    card.start()
    assert wait_until(lambda: back)
    block = microphone.blocks.get(timeout=5)
    assert block.gap
    assert (block.first - first.first) / RATE_HZ == pytest.approx(block.captured_at - first.captured_at, abs=0.02)
    card.speak_into_microphone(tone(0.5, 700, RATE_HZ), RATE_HZ)
    assert np.abs(listened(microphone, 1.0).astype(int)).max() > 5000
    microphone.close()


def test_an_unknown_microphone_is_answered_with_the_names_there_are(card: Card) -> None:
    del card
    microphone = Microphone(SoundCard(), "none of these")
    with pytest.raises(Missing, match=r'No microphone is called "none of these".*"default"'):
        microphone.open()
    microphone.close()


@pytest.mark.parametrize("leak", [-10.0, -20.0])
def test_the_assistants_own_voice_does_not_reach_the_ears(card: Card, leak: float) -> None:
    loopback = card.leak(leak)
    shared = SoundCard()
    microphone, player = Microphone(shared), Player(shared)
    try:
        microphone.open()
        player.open()
        microphone.blocks.get(timeout=5)
        microphone.muted = True
        player.play(Sound(noise(22_050), 22_050), lambda _: setattr(microphone, "muted", False))
        assert wait_until(lambda: not microphone.muted)
        time.sleep(0.5)
        blocks = drained(microphone)
        loudest = max(level_of(block.raw).rms_db for block in blocks)
        assert loudest == pytest.approx(leak + level_of(noise(22_050)).rms_db, abs=3), "it did come back"
        assert not any(np.any(np.abs(block.samples.astype(int)) > 50) for block in blocks)
    finally:
        player.close()
        microphone.close()
        card.unleak(loopback)
