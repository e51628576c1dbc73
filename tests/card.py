"""Two sound cards for tests: a virtual one in real time, and one that is turned by hand.

The virtual one is a private PulseAudio server whose microphone a test speaks into and whose loudspeaker it hears. It
needs Linux and, on Debian and Ubuntu: apt-get install pulseaudio pulseaudio-utils libasound2-plugins libportaudio2.
The fixture `card` skips with that line where they are missing. `norewinds=1` keeps sound that is played into the
microphone from arriving a second late. `default` is the device of the program under test; `tap` records what its
loudspeaker plays; `feed` plays into its microphone.

The other one, `HandCard`, takes the place of a SoundCard where a test must decide what comes when.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from assistant.core.trouble import Missing
from assistant.soundcard.portaudio import Wish

NEEDED = "apt-get install pulseaudio pulseaudio-utils libasound2-plugins libportaudio2"
OPTIONS = (
    "--daemonize=no",
    "--exit-idle-time=-1",
    "--use-pid-file=no",
    "--disable-shm=yes",
    "--high-priority=no",
    "--realtime=no",
    "--log-target=stderr",
    "--log-level=warning",
)
RECORDED_HZ = 16_000
SERVER = """.fail
load-module module-native-protocol-unix auth-anonymous=1 auth-cookie-enabled=0 socket={folder}/native
load-module module-null-sink sink_name=mic_in rate=48000 channels=1 channel_map=mono norewinds=1
load-module module-null-sink sink_name=spk_out rate=48000 channels=1 channel_map=mono norewinds=1
set-default-sink spk_out
set-default-source mic_in.monitor
"""
DEVICES = """
pcm.default {{ type pulse server "unix:{folder}/native" hint {{ description "default" }} }}
ctl.default {{ type pulse server "unix:{folder}/native" }}
pcm.feed {{ type pulse server "unix:{folder}/native" device "mic_in" hint {{ description "into the microphone" }} }}
pcm.tap {{ type pulse server "unix:{folder}/native" device "spk_out.monitor" hint {{ description "the loudspeaker" }} }}
"""


class Card:
    """The server and its devices, in a folder of its own. `environment`: what a program that is to use it needs."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="card-"))
        (self._folder / "run").mkdir(mode=0o700)
        (self._folder / "state").mkdir()
        (self._folder / "default.pa").write_text(SERVER.format(folder=self._folder))
        (self._folder / "asound.conf").write_text(DEVICES.format(folder=self._folder))
        self.environment = {
            "PULSE_SERVER": f"unix:{self._folder}/native",
            "PULSE_RUNTIME_PATH": str(self._folder / "run"),
            "PULSE_STATE_PATH": str(self._folder / "state"),
            "ALSA_CONFIG_PATH": str(self._folder / "asound.conf"),
        }
        self._server: subprocess.Popen[bytes] | None = None
        self._players: list[subprocess.Popen[bytes]] = []
        self._spoken = 0

    @property
    def running(self) -> bool:
        return self._server is not None and self._server.poll() is None

    def start(self) -> None:
        """Plugs it in: returns when the server answers."""
        (self._folder / "native").unlink(missing_ok=True)  # a server that was killed leaves its socket behind
        log = self._folder / "log"
        with log.open("wb") as out:
            self._server = subprocess.Popen(
                ["pulseaudio", "-n", "-F", str(self._folder / "default.pa"), *OPTIONS],
                env={**os.environ, **self.environment},
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        end = time.monotonic() + 10
        while self._pactl("info").returncode:
            if not self.running or time.monotonic() > end:
                raise RuntimeError(log.read_text())
            time.sleep(0.02)

    def unplug(self) -> None:
        """The device is gone from one moment to the next."""
        if self._server is not None:
            self._server.kill()
            self._server.wait(5)

    def freeze(self) -> None:
        assert self._server is not None
        self._server.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        assert self._server is not None
        self._server.send_signal(signal.SIGCONT)

    def quieten(self) -> None:
        """Ends what is still being spoken into the microphone."""
        for player in self._players:
            player.kill()
            player.wait(5)
        self._players.clear()

    def remove(self) -> None:
        self.quieten()
        self.unplug()
        shutil.rmtree(self._folder, ignore_errors=True)

    def speak_into_microphone(self, samples: NDArray[np.int16], rate: int, ahead_ms: int = 20) -> None:
        """Starts to play samples into the virtual microphone; they arrive some 60 ms later. `ahead_ms`: what the player
        hands over in advance; with little it stutters on a busy machine."""
        self._spoken += 1
        file = self._folder / f"spoken-{self._spoken}.wav"
        soundfile.write(file, samples, rate)
        self._players.append(
            subprocess.Popen(
                ["paplay", f"--latency-msec={ahead_ms}", "--device=mic_in", str(file)],
                env={**os.environ, **self.environment},
            )
        )

    def leak(self, decibels: float) -> str:
        """The loudspeaker is heard by the microphone from now on, that much changed. Returns what `unleak` takes."""
        module = self._pactl(
            "load-module", "module-loopback", "source=spk_out.monitor", "sink=mic_in", "latency_msec=30"
        )
        number = module.stdout.decode().strip()
        streams = self._pactl("list", "short", "sink-inputs").stdout.decode().splitlines()
        self._pactl("set-sink-input-volume", streams[-1].split()[0], f"{decibels}dB")
        return number

    @contextmanager
    def recorded(self, file: Path) -> Iterator[None]:
        """What the loudspeaker plays meanwhile goes to `file`: 16 bits, mono, RECORDED_HZ, no header."""
        record = ["parec", "--device=spk_out.monitor", f"--rate={RECORDED_HZ}", "--channels=1", "--format=s16le"]
        with file.open("wb") as out:
            tap = subprocess.Popen(record, stdout=out, env={**os.environ, **self.environment})
            try:
                yield
            finally:
                tap.terminate()
                tap.wait(5)

    def unleak(self, module: str) -> None:
        self._pactl("unload-module", module)

    def _pactl(self, *arguments: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(["pactl", *arguments], env={**os.environ, **self.environment}, capture_output=True)


@dataclass
class Stamps:
    """PortAudio's times of a callback, in seconds of the driver's clock."""

    currentTime: float = 100.0  # noqa: N815
    inputBufferAdcTime: float = 99.95  # noqa: N815
    outputBufferDacTime: float = 100.0  # noqa: N815


@dataclass
class Flags:
    """PortAudio's complaints at a callback."""

    input_overflow: bool = False
    output_underflow: bool = False


class HandCard:
    """A SoundCard whose only stream moves when the test says so. `refuse`: why it can't be opened."""

    def __init__(self, rate: int | None = None, channels: int = 1, refuse: str | None = None) -> None:
        self.can_never_work = False
        self.refuse = refuse
        self.opened = 0
        self.closed = 0
        self._rate = rate
        self._channels = channels
        self._wish: Wish | None = None

    def open(self, wish: Wish) -> object:
        if self.refuse:
            raise Missing(self.refuse)
        self._wish = wish
        wish.ready(self._rate or wish.rate, self._channels)
        self.opened += 1
        return object()

    def close(self, _opened: object) -> None:
        self.closed += 1

    def look_again(self) -> None: ...

    def pull(self, frames: int) -> NDArray[np.int16]:
        """The next samples for the loudspeaker, shape (frames, channels)."""
        assert self._wish is not None
        block = np.full((frames, self._channels), 77, np.int16)  # what a driver leaves in its buffer
        self._wish.serve(block, frames, Stamps(), Flags())
        return block

    def push(self, samples: NDArray[np.int16], overflow: bool = False, age_s: float | None = None) -> None:
        """Samples from the microphone, shape (frames,) for every channel; the first is `age_s` old."""
        assert self._wish is not None
        age = len(samples) / (self._rate or self._wish.rate) if age_s is None else age_s
        block = np.repeat(samples[:, np.newaxis], self._channels, axis=1)
        self._wish.serve(block, len(block), Stamps(inputBufferAdcTime=100.0 - age), Flags(input_overflow=overflow))

    def vanish(self) -> None:
        """The device goes, as PortAudio tells of it."""
        assert self._wish is not None
        self._wish.finished()


def why_not() -> str | None:
    """The reason why there can be no virtual sound card here."""
    programs = all(map(shutil.which, ("pulseaudio", "pactl", "paplay")))
    if sys.platform == "linux" and programs and ctypes.util.find_library("portaudio"):
        return None
    return f"the virtual sound card needs Linux and: {NEEDED}"


def wait_until(condition: Callable[[], Any], seconds: float = 15.0) -> bool:
    """Waits for what another thread will bring about; the limit only ends a test that has failed."""
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.01)
    return True


@pytest.fixture(scope="session")
def card_of_the_session() -> Iterator[Card]:
    reason = why_not()
    if reason:
        pytest.skip(reason)
    card = Card()
    before = {name: os.environ.get(name) for name in card.environment}
    os.environ.update(card.environment)  # PortAudio reads it when it begins
    try:
        card.start()
        if "sounddevice" in sys.modules:
            sys.modules["sounddevice"]._terminate()
            sys.modules["sounddevice"]._initialize()
        yield card
    finally:
        card.remove()
        for name, value in before.items():
            os.environ.pop(name) if value is None else os.environ.update({name: value})


@pytest.fixture
def card(card_of_the_session: Card) -> Iterator[Card]:
    """A virtual sound card that works and is quiet."""
    if not card_of_the_session.running:
        card_of_the_session.start()
    yield card_of_the_session
    card_of_the_session.quieten()
