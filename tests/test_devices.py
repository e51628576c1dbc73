"""`gladhand devices`: the list by name, and the sound test's advice."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from card import Card
from numpy.typing import NDArray
from rich.console import Console

from assistant.cli.devices import show_devices
from assistant.cli.sound_test import ASK, Choice, findings, try_out
from assistant.core.trouble import Missing
from assistant.ears.level import Level

Samples = NDArray[np.int16]


class Screen(io.StringIO):
    """What is printed; `on_ask` is called when the driver is asked to speak."""

    def __init__(self, on_ask: Callable[[], None] = lambda: None) -> None:
        super().__init__()
        self._on_ask = on_ask

    def write(self, text: str) -> int:
        if text.startswith(ASK[:9]):
            self._on_ask()
        return super().write(text)

    @property
    def console(self) -> Console:
        return Console(file=self, width=300, highlight=False)


def speech(amplitude: float, seconds: float = 2.0) -> Samples:
    """Noise in syllables: four a second."""
    t = np.arange(round(16_000 * seconds)) / 16_000
    syllables = np.clip(np.sin(2 * np.pi * 4 * t), 0, 1)
    carrier = np.random.default_rng(3).normal(0, 0.3, len(t))
    return np.clip(amplitude * syllables * carrier, -32768, 32767).astype(np.int16)


def test_microphones_loudspeakers_and_voices_are_listed_by_name(card: Card) -> None:
    del card
    screen = Screen()
    show_devices(screen.console)
    told = screen.getvalue()
    microphones, loudspeakers = told.index("Microphones"), told.index("Loudspeakers")
    assert microphones < told.index("tap") < told.index("default") < loudspeakers < told.rindex("default")
    assert "English (America)" in told or "No voice was found. Install espeak-ng" in told


def levels(*decibels: float, clipped: bool = False) -> list[Level]:
    return [Level(each, each + 10, clipped) for each in decibels]


@pytest.mark.parametrize(
    ("spoken", "own", "said"),
    [
        (
            levels(-20),
            levels(-70),
            ["level of the microphone is good", "None of the assistant's", "You can speak while"],
        ),
        (levels(-20), levels(-45), ["good", "comes back 25 dB below yours", "You can speak while it speaks"]),
        (levels(-20), levels(-30), ["good", "comes back 10 dB below yours", "use a headset"]),
        (levels(-30), levels(-25), ["good", "comes back 5 dB above yours", "use a headset"]),
        (levels(-50), levels(-70), ["Level low. Come closer"]),
        (levels(-2, clipped=True), levels(-70), ["Clipping: the loud parts are cut off"]),
        (levels(-68), levels(-30), ["Nothing louder than the background", "can't be told without yours"]),
        (levels(-96), levels(-96), ["No sound from this device"]),
    ],
)
def test_the_findings_say_in_plain_words_what_to_change(spoken: list[Level], own: list[Level], said: list[str]) -> None:
    told = " ".join(findings(levels(-70), own, spoken))
    for words in said:
        assert words in told


def test_nothing_is_said_about_the_own_voice_when_none_was_played() -> None:
    assert "own voice" not in " ".join(findings(levels(-70), [], levels(-20)))


@pytest.mark.parametrize(("leak", "said"), [(None, "None of the assistant's own voice"), (-8.0, "use a headset")])
def test_the_sound_test_plays_listens_and_measures_on_a_real_card(card: Card, leak: float | None, said: str) -> None:
    loopback = None if leak is None else card.leak(leak)
    heard: list[int] = []

    def hear(samples: Samples) -> str:
        heard.append(len(samples))
        return "primary is at one hundred and twenty"

    screen = Screen(lambda: card.speak_into_microphone(speech(20_000), 16_000))
    try:
        try_out(screen.console, Choice(seconds=1.0), hear)
    finally:
        if loopback is not None:
            card.unleak(loopback)
    told = screen.getvalue()
    assert "The level of the microphone is good." in told
    assert said in told
    assert "Heard: primary is at one hundred and twenty" in told
    assert heard == [pytest.approx(16_000, abs=1600)]


def test_an_unknown_microphone_is_said_after_the_loudspeaker_was_tested(card: Card) -> None:
    del card
    screen = Screen()
    with pytest.raises(Missing, match='No microphone is called "no such one"'):
        try_out(screen.console, Choice("no such one", seconds=1.0))
    assert "The loudspeaker says" in screen.getvalue()


RUN = """
import sys
from rich.console import Console
from assistant.cli.devices import show_devices
from assistant.cli.sound_test import Choice, try_out
from assistant.core.trouble import Missing
show_devices(Console(width=300))
try:
    try_out(Console(width=300), Choice())
except Missing as trouble:
    print(trouble)
    sys.exit(trouble.exit_code)
"""


@pytest.mark.parametrize("library", [True, False])
def test_without_sound_the_list_explains_and_only_the_test_fails(tmp_path: Path, library: bool) -> None:
    (tmp_path / "asound.conf").write_text(
        f'pcm.default {{ type pulse server "unix:{tmp_path}/none" hint {{ description "default" }} }}\n'
        f'ctl.default {{ type pulse server "unix:{tmp_path}/none" }}\n'
    )
    environment = {**os.environ, "ALSA_CONFIG_PATH": str(tmp_path / "asound.conf")}
    if not library:
        (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
        environment["PYTHONPATH"] = os.pathsep.join([str(tmp_path), *sys.path])
    ran = subprocess.run([sys.executable, "-c", RUN], env=environment, capture_output=True, text=True, timeout=60)
    assert ran.returncode == 3
    assert "Traceback" not in ran.stderr
    if library and "libportaudio2" not in ran.stdout:
        assert ran.stdout.count("No microphone was found. Plug one in, or go on with typed answers.") == 2
        assert ran.stdout.count("No loudspeaker was found. Plug one in, or go on with captions only.") == 2
    else:
        assert "apt-get install libportaudio2" in ran.stdout
