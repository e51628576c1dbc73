"""The player, the earcons, and how both meet devices that are absent, vanish or freeze."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from card import Card, HandCard, wait_until
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from assistant.core.trouble import Missing
from assistant.ears.microphone import Microphone
from assistant.mouth import earcons
from assistant.mouth.player import FADE_S, RATE_HZ, Played, Player
from assistant.mouth.sound import Sound
from assistant.soundcard.portaudio import SoundCard

Samples = NDArray[np.int16]


def tone(seconds: float, hertz: float = 500.0, rate: int = RATE_HZ) -> Sound:
    t = np.arange(round(seconds * rate)) / rate
    return Sound((8000 * np.sin(2 * np.pi * hertz * t)).astype(np.int16), rate)


def noise(frames: int, seed: int = 1) -> Sound:
    return Sound(np.random.default_rng(seed).integers(-9000, 9000, frames, dtype=np.int16), RATE_HZ)


class ByHand:
    """A player on a card that is turned by hand, and what it told."""

    def __init__(self, rate: int | None = None, channels: int = 1) -> None:
        self.card = HandCard(rate, channels)
        self.told: list[tuple[str, Played]] = []
        self.lost: list[str] = []
        self.player = Player(self.card, lost=self.lost.append)  # type: ignore[arg-type]

    def play(self, name: str, sound: Sound) -> None:
        self.player.play(sound, lambda played: self.told.append((name, played)))

    def pull(self, *frames: int) -> Samples:
        return np.concatenate([self.card.pull(n) for n in frames])


@pytest.fixture
def by_hand() -> Iterator[ByHand]:
    made = ByHand()
    made.player.open()
    yield made
    made.player.close()


# --- what leaves the player ------------------------------------------------------------------------------------------


@settings(max_examples=30)
@given(
    blocks=st.lists(st.integers(1, 400), min_size=30, max_size=60), lengths=st.lists(st.integers(0, 900), max_size=4)
)
def test_every_sample_leaves_once_and_in_order_whatever_blocks_the_driver_asks_for(
    blocks: list[int], lengths: list[int]
) -> None:
    made = ByHand()
    made.player.open()
    sounds = [noise(length, seed) for seed, length in enumerate(lengths)]
    for number, sound in enumerate(sounds):
        made.play(str(number), sound)
    out = made.pull(*blocks)[:, 0]
    expected = np.concatenate([*(sound.samples for sound in sounds), np.zeros(len(out), np.int16)])[: len(out)]
    made.player.close()
    np.testing.assert_array_equal(out, expected)


def test_a_player_with_nothing_to_play_delivers_silence(by_hand: ByHand) -> None:
    assert not by_hand.pull(200, 200).any()


def test_sounds_are_told_of_in_their_order_and_once(by_hand: ByHand) -> None:
    for name in ("first", "second", "third"):
        by_hand.play(name, noise(300))
    by_hand.pull(1000)
    assert wait_until(lambda: not by_hand.player.playing)
    by_hand.pull(1000)
    assert [(name, played.cut) for name, played in by_hand.told] == [
        ("first", False),
        ("second", False),
        ("third", False),
    ]


def test_a_sound_is_playing_until_it_was_told_of(by_hand: ByHand) -> None:
    assert not by_hand.player.playing
    by_hand.play("it", noise(300))
    by_hand.pull(200)
    assert by_hand.player.playing
    by_hand.pull(200)
    assert wait_until(lambda: not by_hand.player.playing)


def test_the_told_length_is_the_length_of_the_sound(by_hand: ByHand) -> None:
    by_hand.play("it", noise(RATE_HZ // 10))
    by_hand.pull(RATE_HZ)
    assert wait_until(lambda: by_hand.told)
    played = by_hand.told[0][1]
    assert played.began is not None
    assert played.ended - played.began == pytest.approx(0.1, abs=1e-6)


def test_a_cut_fades_within_five_milliseconds_and_drops_what_waits(by_hand: ByHand) -> None:
    by_hand.play("cut", Sound(np.full(RATE_HZ, 8000, np.int16), RATE_HZ))
    by_hand.play("waiting", noise(300))
    assert (by_hand.pull(100) == 8000).all()
    by_hand.player.cut()
    after = by_hand.pull(100, 100, 100)[:, 0]
    fade = round(FADE_S * RATE_HZ)
    assert fade <= 0.005 * RATE_HZ + 1
    assert (np.diff(after[:fade].astype(int)) < 0).all(), "falls steadily: no click"
    assert not after[fade:].any()
    assert wait_until(lambda: len(by_hand.told) == 2)
    assert [(name, played.cut, played.began is None) for name, played in by_hand.told] == [
        ("cut", True, False),
        ("waiting", True, True),
    ]


def test_a_sound_that_is_played_after_a_cut_is_heard_whole(by_hand: ByHand) -> None:
    by_hand.play("cut", noise(5000))
    by_hand.pull(100)
    by_hand.player.cut()
    after = noise(200, seed=2)
    by_hand.play("after", after)
    out = by_hand.pull(1000)[:, 0]
    fade = round(FADE_S * RATE_HZ)
    np.testing.assert_array_equal(out[fade : fade + 200], after.samples)


def test_a_cut_of_nothing_does_no_harm(by_hand: ByHand) -> None:
    by_hand.player.cut()
    by_hand.play("it", noise(100))
    assert by_hand.pull(100).any()


def test_a_stereo_device_gets_the_sound_on_both_sides() -> None:
    made = ByHand(channels=2)
    made.player.open()
    made.play("it", noise(100))
    out = made.pull(100)
    made.player.close()
    assert out.shape == (100, 2)
    np.testing.assert_array_equal(out[:, 0], out[:, 1])
    assert out.any()


def test_a_device_of_another_rate_plays_the_same_tone_for_the_same_time() -> None:
    made = ByHand(rate=48_000)
    made.player.open()
    made.play("it", tone(0.5, hertz=1000.0))
    out = made.pull(*[480] * 60)[:, 0]
    made.player.close()
    assert np.flatnonzero(out)[-1] / 48_000 == pytest.approx(0.5, abs=0.005)
    spectrum = np.abs(np.fft.rfft(out[:24_000]))
    assert np.argmax(spectrum) * 2 == pytest.approx(1000, abs=4)


# --- devices that are absent, vanish or freeze -----------------------------------------------------------------------


def test_a_sound_is_told_of_as_cut_when_the_device_goes_and_the_loss_is_said_once() -> None:
    made = ByHand()
    made.player.open()
    made.play("half", noise(5000))
    made.play("not at all", noise(100))
    made.pull(100)
    made.card.refuse = "gone"
    made.card.vanish()
    assert wait_until(lambda: made.lost and len(made.told) == 2)
    made.play("without a device", noise(100))
    assert wait_until(lambda: len(made.told) == 3)
    made.player.close()
    assert [(name, played.cut) for name, played in made.told] == [
        ("half", True),
        ("not at all", True),
        ("without a device", True),
    ]
    assert made.lost == ["The loudspeaker was lost: the device or its sound server went away."]


def test_a_device_that_comes_back_does_not_play_the_rest_of_what_was_lost() -> None:
    made = ByHand()
    made.player.open()
    made.play("lost", noise(5000))
    made.pull(100)
    made.card.vanish()
    assert wait_until(lambda: made.card.opened == 2)
    assert wait_until(lambda: made.player.is_open)
    assert not made.pull(500).any()
    made.play("new", noise(100))
    assert made.pull(100).any()
    made.player.close()


def test_an_end_that_was_asked_for_is_no_loss() -> None:
    made = ByHand()
    made.player.open()
    made.player.close()
    made.card.vanish()
    assert made.lost == []
    assert made.card.closed == 1


def test_a_loudspeaker_that_is_not_there_is_told_plainly_and_played_to_when_it_comes() -> None:
    made = ByHand()
    made.card.refuse = "No loudspeaker was found."
    with pytest.raises(Missing, match="No loudspeaker"):
        made.player.open()
    made.card.refuse = None
    assert wait_until(lambda: made.player.is_open)
    made.player.close()


def run_apart(code: str, environment: dict[str, str]) -> str:
    """In a process of its own: what PortAudio finds when it begins, it keeps."""
    ran = subprocess.run(
        [sys.executable, "-c", code], env={**os.environ, **environment}, capture_output=True, text=True, timeout=60
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


OPEN = """
from assistant.core.trouble import Missing
from assistant.mouth.player import Player
from assistant.soundcard.portaudio import SoundCard
card = SoundCard()
try:
    Player(card).open()
except Missing as trouble:
    print(trouble.exit_code, card.can_never_work, trouble)
"""


def test_without_the_portaudio_library_the_user_learns_how_to_get_it(tmp_path: Path) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    told = run_apart(OPEN, {"PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])})
    assert told.startswith("3 True The PortAudio library was not found")
    assert "apt-get install libportaudio2" in told
    assert "captions" in told


def test_without_a_device_or_with_its_server_down_the_user_is_told_to_plug_one_in(card: Card, tmp_path: Path) -> None:
    del card  # PortAudio is installed
    server = tmp_path / "no-server"
    (tmp_path / "asound.conf").write_text(
        f'pcm.default {{ type pulse server "unix:{server}" hint {{ description "default" }} }}\n'
        f'ctl.default {{ type pulse server "unix:{server}" }}\n'
    )
    told = run_apart(OPEN, {"ALSA_CONFIG_PATH": str(tmp_path / "asound.conf")})
    assert told.startswith("3 False No loudspeaker was found. Plug one in")


def test_an_unknown_name_is_answered_with_the_names_there_are(card: Card) -> None:
    del card
    player = Player(SoundCard(), "the one in the kitchen")
    with pytest.raises(Missing, match=r'No loudspeaker is called "the one in the kitchen".*"default".*"feed"'):
        player.open()
    player.close()


# --- on the virtual sound card ---------------------------------------------------------------------------------------


class Rig:
    """A player on the virtual card, and a second microphone at its loudspeaker."""

    def __init__(self) -> None:
        self.card = SoundCard()
        self.lost: list[str] = []
        self.back: list[float] = []
        self.told: list[Played] = []
        self.player = Player(self.card, None, self.lost.append, lambda: self.back.append(time.monotonic()))
        self.tap = Microphone(self.card, "tap")

    def captured(self, seconds: float) -> tuple[Samples, float]:
        """What left the loudspeaker in the next seconds, and the moment of its first sample."""
        while self.tap.blocks.qsize():
            self.tap.blocks.get()
        blocks = [self.tap.blocks.get(timeout=5) for _ in range(round(seconds / 0.05))]
        return np.concatenate([block.samples for block in blocks]), blocks[0].captured_at


@pytest.fixture
def rig(card: Card) -> Iterator[Rig]:
    del card
    made = Rig()
    made.player.open()
    made.tap.open()
    yield made
    made.player.close()
    made.tap.close()


def heard_span(samples: Samples) -> tuple[float, float]:
    loud = np.flatnonzero(np.abs(samples.astype(int)) > 500)
    assert len(loud), "nothing was heard"
    return loud[0] / 16_000, loud[-1] / 16_000


def test_what_is_played_is_heard_at_the_loudspeaker_when_the_player_says_so(rig: Rig) -> None:
    rig.tap.blocks.get(timeout=5)
    rig.player.play(tone(0.4), rig.told.append)
    samples, start = rig.captured(1.0)
    first, last = heard_span(samples)
    assert wait_until(lambda: rig.told)
    played = rig.told[0]
    assert not played.cut
    assert last - first == pytest.approx(0.4, abs=0.01)
    assert played.began == pytest.approx(start + first, abs=0.1)
    assert played.ended == pytest.approx(start + last, abs=0.1)


def test_a_cut_leaves_silence_at_the_loudspeaker_within_200_milliseconds(rig: Rig) -> None:
    rig.tap.blocks.get(timeout=5)
    rig.player.play(tone(5.0), rig.told.append)
    time.sleep(0.3)
    rig.player.cut()
    cut_at = time.monotonic()
    samples, start = rig.captured(0.8)
    assert wait_until(lambda: rig.told)
    assert rig.told[0].cut
    after = samples[max(0, round((cut_at + 0.2 - start) * 16_000)) :]
    assert len(after) > 4000
    assert not np.any(np.abs(after.astype(int)) > 5)


def test_a_sound_server_that_is_restarted_is_played_to_again(card: Card, rig: Rig) -> None:
    rig.player.play(tone(5.0), rig.told.append)
    time.sleep(0.1)
    card.unplug()
    assert wait_until(lambda: rig.lost and rig.told)
    assert rig.told[0].cut
    card.start()
    assert wait_until(lambda: rig.back and rig.tap.is_open)
    rig.player.play(tone(0.3), rig.told.append)
    samples, _ = rig.captured(1.0)
    first, last = heard_span(samples)
    assert last - first == pytest.approx(0.3, abs=0.02)
    assert len(rig.lost) == len(rig.back) == 1


def test_a_frozen_sound_server_is_noticed_and_does_not_hold_the_program(card: Card, rig: Rig) -> None:
    rig.player.play(tone(5.0), rig.told.append)
    time.sleep(0.1)
    card.freeze()
    try:
        assert wait_until(lambda: rig.lost and rig.told)
        assert rig.told[0].cut
        assert "nothing came from it" in rig.lost[0]
        rig.player.close()
        assert not rig.player.is_open
    finally:
        card.thaw()


# --- earcons ---------------------------------------------------------------------------------------------------------

EARCONS = {
    "listening": earcons.LISTENING,
    "heard": earcons.HEARD,
    "time running": earcons.TIME_RUNNING,
    "attention": earcons.ATTENTION,
}


@pytest.mark.parametrize("name", EARCONS)
def test_an_earcon_is_short_and_begins_and_ends_without_a_click(name: str) -> None:
    sound = EARCONS[name]
    assert 0.05 <= sound.seconds <= 0.6
    assert abs(int(sound.samples[0])) < 200
    assert abs(int(sound.samples[-1])) < 200
    assert 0.1 * 32768 < np.abs(sound.samples.astype(int)).max() < 0.5 * 32768


@pytest.mark.parametrize("name", EARCONS)
def test_an_earcon_lies_where_the_standards_for_older_ears_and_vehicles_want_it(name: str) -> None:
    """ISO 24500: nothing that matters above 2.5 kHz; ISO 15006: tones within 400 to 2000 Hz (both from memory)."""
    samples = EARCONS[name].samples.astype(float)
    power = np.abs(np.fft.rfft(samples, 1 << 16)) ** 2
    hertz = np.fft.rfftfreq(1 << 16, 1 / earcons.RATE_HZ)
    assert power[hertz > 2500].sum() < 0.001 * power.sum()
    assert power[(hertz >= 400) & (hertz <= 2000)].sum() > 0.9 * power.sum()


@pytest.mark.parametrize(("one", "other"), list(combinations(EARCONS, 2)))
def test_no_earcon_can_be_taken_for_another(one: str, other: str) -> None:
    a, b = (EARCONS[name].samples.astype(float) for name in (one, other))
    likeness = np.abs(np.correlate(a, b, "full")).max() / np.sqrt((a @ a) * (b @ b))
    assert likeness < 0.5
