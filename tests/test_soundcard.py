"""The sound card's way with PortAudio: rates and channels that are refused, names, and calls that never come back."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from card import wait_until

from assistant.core.trouble import Missing
from assistant.soundcard import portaudio
from assistant.soundcard.devices import SoundDevice, choose
from assistant.soundcard.hush import hushed
from assistant.soundcard.portaudio import SoundCard, Wish


class LibraryError(Exception):
    """In the place of sounddevice.PortAudioError."""


ALL = {(rate, channels) for rate in (16_000, 48_000) for channels in (1, 2)}


class Library:
    """In the place of the module sounddevice: one device, which takes some rates and channels, and may hang."""

    PortAudioError = LibraryError

    def __init__(self) -> None:
        self.default = SimpleNamespace(hostapi=0)
        self.takes = ALL
        self.streams: list[Stream] = []
        self.hang: threading.Event | None = None
        self.fail_at_start = False
        self.renewed = 0

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "Some System", "default_input_device": 0, "default_output_device": 0}]

    def query_devices(self) -> list[dict[str, Any]]:
        device = {"name": "The Device", "index": 0, "hostapi": 0, "default_samplerate": 48_000.0}
        return [{**device, "max_input_channels": 2, "max_output_channels": 2}]

    def InputStream(self, **settings: Any) -> Stream:  # noqa: N802
        if (settings["samplerate"], settings["channels"]) not in self.takes:
            raise LibraryError(f"Invalid {settings['samplerate']} {settings['channels']}")
        self.streams.append(Stream(self, settings))
        return self.streams[-1]

    OutputStream = InputStream

    def _terminate(self) -> None:
        self.renewed += 1

    def _initialize(self) -> None: ...

    def _exit_handler(self) -> None: ...


class Stream:
    def __init__(self, library: Library, settings: dict[str, Any]) -> None:
        self.settings = settings
        self.state = "made"
        self._library = library

    def start(self) -> None:
        if self._library.fail_at_start:
            raise LibraryError("Device unavailable")
        if self._library.hang is not None:
            self._library.hang.wait(30)
        self.state = "started"

    def abort(self) -> None:
        if self._library.hang is not None:
            self._library.hang.wait(30)

    def close(self) -> None:
        self.state = "closed"


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Library:
    made = Library()
    monkeypatch.setitem(sys.modules, "sounddevice", made)  # type: ignore[arg-type]
    monkeypatch.setattr(portaudio, "CALL_LIMIT_S", 0.2)
    return made


def wish(ready: Callable[..., None] = lambda *_: None) -> Wish:
    return Wish("input", None, 16_000, 0.05, serve=lambda: None, ready=ready, finished=lambda: None)


@pytest.mark.parametrize(
    ("takes", "rate", "channels"),
    [
        (ALL, 16_000, 1),
        ({(16_000, 2), (48_000, 2)}, 16_000, 2),
        ({(48_000, 1), (48_000, 2)}, 48_000, 1),
        ({(48_000, 2)}, 48_000, 2),
    ],
)
def test_a_device_that_refuses_is_opened_at_its_own_rate_or_in_stereo(
    library: Library, takes: set[tuple[int, int]], rate: int, channels: int
) -> None:
    library.takes = takes
    told: list[tuple[int, int]] = []
    SoundCard().open(wish(lambda *opened: told.append(opened)))
    assert told == [(rate, channels)]
    settings = library.streams[0].settings
    assert (settings["samplerate"], settings["channels"], settings["blocksize"]) == (rate, channels, rate // 20)
    assert library.streams[0].state == "started"


def test_a_device_that_refuses_everything_is_told_of_with_its_first_refusal(library: Library) -> None:
    library.takes = set()
    with pytest.raises(
        Missing, match=r'"The Device" can\'t be opened \(Invalid 16000 1\). Check that it is plugged in'
    ):
        SoundCard().open(wish())


def test_a_stream_that_does_not_start_is_not_left_open(library: Library) -> None:
    library.fail_at_start = True
    with pytest.raises(Missing, match="Device unavailable"):
        SoundCard().open(wish())
    assert {stream.state for stream in library.streams} == {"closed"}


def test_an_opening_that_hangs_is_left_behind_and_closed_when_it_comes_late(library: Library) -> None:
    card = SoundCard()
    card.devices()
    library.hang = threading.Event()
    with pytest.raises(Missing, match="does not answer"):
        card.open(wish())
    assert card.devices(), "the next call is answered"
    library.hang.set()
    assert wait_until(lambda: library.streams[0].state == "closed")


def test_a_closing_that_hangs_does_not_hold_its_caller(library: Library) -> None:
    card = SoundCard()
    opened = card.open(wish())
    library.hang = threading.Event()
    card.close(opened)
    assert library.streams[0].state == "started"
    library.hang.set()
    assert wait_until(lambda: library.streams[0].state == "closed")


def test_a_call_that_stands_behind_one_that_hangs_is_made_all_the_same(library: Library) -> None:
    card = SoundCard()
    opened = card.open(wish())
    library.hang = threading.Event()
    closing = threading.Thread(target=card.close, args=(opened,))
    closing.start()
    assert card.devices()
    closing.join(10)
    library.hang.set()


def test_new_devices_are_looked_for_only_while_no_stream_would_be_ended_by_it(library: Library) -> None:
    card = SoundCard()
    opened = card.open(wish())
    card.look_again()
    assert library.renewed == 0
    card.close(opened)
    card.look_again()
    assert library.renewed == 1


# --- names -----------------------------------------------------------------------------------------------------------


def device(name: str, index: int, default: bool = False, inputs: int = 1) -> SoundDevice:
    return SoundDevice(name, "Some System", inputs, 0, 48_000, default, False, index)


DEVICES = (
    device("Cab Headset", 0),
    device("Cab Headset Pro", 1),
    device("Built-in", 2, default=True),
    device("Line", 3, inputs=0),
)


@pytest.mark.parametrize(
    ("name", "index"), [(None, 2), ("Cab Headset", 0), ("cab headset", 0), ("pro", 1), ("built", 2)]
)
def test_a_device_is_found_by_its_name_or_a_part_of_it(name: str | None, index: int) -> None:
    assert choose(DEVICES, "input", name).index == index


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("headset", 'Several microphones fit "headset". Name one of these: "Cab Headset", "Cab Headset Pro".'),
        ("line", 'No microphone is called "line". Name one of these: "Built-in", "Cab Headset", "Cab Headset Pro".'),
    ],
)
def test_a_name_that_is_unclear_or_unknown_is_answered_with_the_names(name: str, told: str) -> None:
    with pytest.raises(Missing) as trouble:
        choose(DEVICES, "input", name)
    assert str(trouble.value) == told


def test_without_a_default_the_first_device_that_can_is_taken() -> None:
    assert choose((device("Line", 0, inputs=0), device("Only", 1)), "input", None).index == 1


# --- the library's own lines -----------------------------------------------------------------------------------------


def test_what_a_c_library_prints_is_kept_off_the_screen_and_what_python_prints_is_not(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with hushed():
        os.write(2, b"ALSA lib pcm.c: underrun occurred\n")
        print("the microphone was lost", file=sys.stderr)
    os.write(2, b"after\n")
    assert capfd.readouterr().err == "the microphone was lost\nafter\n"
