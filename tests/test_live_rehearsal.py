"""A rehearsal by voice in the virtual cab, in real time: a trainee speaks orders, reports and readings and hears
the cab.

The readings are those that the screen shows at that moment, so the verdicts belong to the vehicle that was simulated.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from card import RECORDED_HZ, Card, wait_until
from live_driver import LiveCheck

from assistant.log import verify
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Voice
from assistant.vehicle.tongue import grouped

pytestmark = pytest.mark.usefixtures("speech_model")

SCENE = 'vehicle = "truck"\nstart_psi = 140.0\n[faults]\ngovernor-high = 145.0\n'
ORDERS = {
    "ask.engine-on": ("start the engine", "engine 650 rpm"),
    "ask.released": ("release the parking brake", "parking knob in"),
    "ask.engine-off": ("stop the engine", "engine off, parking knob in"),
}
"""By the question: what is said to the vehicle first, and where it shows."""
REPORTS = {
    "ask.parked": "brakes are set",
    "ask.chocked": "wheels are chocked",
    "ask.clear": "yes",
    "ask.engine-on": "engine running",
    "ask.released": "brakes released",
    "ask.charged": "yes",
    "ask.engine-off": "engine is off",
    "ask.ending": "continue",
}
READINGS = ("ask.governor-cut-out", "ask.leak-first", "ask.leak-last")
AWAITED = {"ask.governor-cut-out": "the air dryer blows off"}
"""By the question: what happens by itself before it can be answered."""
NEEDLES = re.compile(r"\[primary (\d+), secondary (\d+) psi")


class Trainee:
    """Speaks in the virtual cab of `rehearsal`."""

    def __init__(self, card: Card, rehearsal: LiveCheck) -> None:
        self._card, self._rehearsal = card, rehearsal
        self.voice = Voice(150)
        self.done: dict[str, float] = {}  # question -> when what was said to the vehicle for it had shown

    def answer(self, asked: str) -> None:
        order, seen = ORDERS.get(asked, (None, AWAITED.get(asked)))
        if order is not None:
            self._speak(order)
        if seen is not None:
            assert wait_until(lambda: seen in self._rehearsal.text(), 40), self._rehearsal.text()
            self.done[asked] = time.monotonic()
        if asked in READINGS:
            self._speak(self._reading())
        elif asked in REPORTS:
            self._speak(REPORTS[asked])

    def _reading(self) -> str:
        primary, secondary = NEEDLES.findall(self._rehearsal.text())[-1]
        return f"primary {grouped(float(primary))} secondary {grouped(float(secondary))}"

    def _speak(self, text: str) -> None:
        sound = self.voice.render(text)
        assert isinstance(sound, Sound)
        self._card.speak_into_microphone(sound.samples, sound.rate)
        time.sleep(sound.seconds)


@pytest.fixture
def rehearsal(card: Card, tmp_path: Path) -> Iterator[LiveCheck]:
    (tmp_path / "settings.toml").write_text("rate = 280\n")
    (tmp_path / "scene.toml").write_text(SCENE)
    command = ("rehearse", "--voice", "--scenario", str(tmp_path / "scene.toml"))
    begun = LiveCheck(card, tmp_path, command=command, vehicle=None)
    yield begun
    if begun.process.poll() is None:
        begun.process.kill()
    begun.process.wait()


@pytest.fixture
def trainee(card: Card, rehearsal: LiveCheck) -> Iterator[Trainee]:
    made = Trainee(card, rehearsal)
    yield made
    made.voice.close()


def test_a_trainee_works_the_vehicle_by_voice_hears_it_and_finds_the_fault(
    card: Card, rehearsal: LiveCheck, trainee: Trainee, tmp_path: Path
) -> None:
    file = tmp_path / "cab.raw"
    with card.recorded(file):
        begun = time.monotonic()
        while rehearsal.next_said() is not None:
            if not rehearsal.has_more_to_say():
                time.sleep(0.4)
                trainee.answer(rehearsal.asked())
    code = rehearsal.process.wait(30)
    told = rehearsal.text()
    assert code == 0, told
    assert "nanobind" not in told
    assert "(You: start the engine)" in told
    assert "Found, by: governor-cut-out." in told
    kept = verify(rehearsal.log)
    assert kept.sealed
    assert kept.header.mode == "rehearsal"
    assert "gauges" in {entry.event.kind for entry in kept.entries}
    assert not {"start the engine", "stop the engine"} & set(rehearsal.heard())
    quietest = _quietest(file)
    assert min(quietest) == 0  # between two lines, before the engine runs
    on, off = (round(trainee.done[asked] - begun) for asked in ("ask.engine-on", "ask.engine-off"))
    while_it_ran = quietest[on + 2 : off - 2]
    assert len(while_it_ran) > 30
    assert sum(peak > 100 for peak in while_it_ran) > 0.9 * len(while_it_ran)


def _quietest(file: Path) -> list[int]:
    """The strongest sample in the quietest tenth of each second that the loudspeaker played."""
    samples = np.abs(np.fromfile(file, np.int16).astype(int))
    seconds = samples[: len(samples) // RECORDED_HZ * RECORDED_HZ].reshape(-1, 10, RECORDED_HZ // 10)
    return [int(second.max(axis=1).min()) for second in seconds]
