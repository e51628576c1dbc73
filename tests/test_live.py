"""A check in the virtual cab, in real time: the command itself, its microphone and its loudspeaker."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from card import Card, wait_until
from live_driver import ANSWERS, ROOT, LiveCheck, phrases

from assistant.cli import run
from assistant.log import read, verify
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Voice

pytestmark = pytest.mark.usefixtures("speech_model")


@pytest.fixture
def begin(card: Card, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[LiveCheck]:
    """Starts live checks; what still runs at the end of the test is ended."""
    monkeypatch.setenv("GLADHAND_STANDARDS", str(ROOT / "tests" / "short_standard"))
    begun: list[LiveCheck] = []

    def make(*options: str, vehicle: str | None = "combination") -> LiveCheck:
        begun.append(LiveCheck(card, tmp_path, *options, vehicle=vehicle))
        return begun[-1]

    yield make  # type: ignore[misc]
    for check in begun:
        if check.process.poll() is None:
            check.process.kill()
        check.process.wait()


def test_a_whole_check_is_done_hands_free_while_the_own_voice_leaks(card, begin) -> None:
    loopback = card.leak(-20)
    check = begin()
    try:
        check.answer()
        assert check.process.wait(30) == 0, check.printed.read_text()
    finally:
        card.unleak(loopback)
    assert {text.replace(",", "") for text in ANSWERS.values()} <= set(check.heard())
    assert len(check.heard()) <= check.spoken, check.heard()
    kept = verify(check.log)
    assert kept.sealed
    assert kept.header.mode == "live"
    assert run(["replay", str(check.log), "--verify"]) == 0
    readings = [effect for entry in kept.entries for effect in entry.effects if effect.kind == "take"]
    assert [[reading.value for reading in take.readings] for take in readings] == [[125], [122, 121], [121, 120]]
    _every_utterance_was_kept(check)


def test_a_figure_that_comes_while_its_number_is_read_back_is_joined_to_it(card, begin, recogniser) -> None:
    words, rate = phrases()["one twenty five"]
    (whole,) = recogniser.feed(soxr.resample(words, rate, 16_000)) + recogniser.finish()
    cut = (whole.words[1].end_ms + whole.words[2].start_ms) // 2 * rate // 1000
    check = begin()
    assert check.answer(until="ask.governor-cut-out"), check.printed.read_text()
    pause = np.zeros(int(0.65 * rate), np.int16)
    time.sleep(0.4)  # the ears open after the last word
    card.speak_into_microphone(np.concatenate([words[:cut], pause, words[cut:]]), rate)
    while (entry := check.next_entry()) is not None and not entry["event"].get("goes_on"):
        pass
    taken = [effect for one in read(check.log).entries for effect in one.effects if effect.kind == "take"]
    assert [(one.readings[0].value, one.replaces) for one in taken] == [(120, False), (125, True)]


def _every_utterance_was_kept(check: LiveCheck) -> None:
    files = list(check.log.with_name(f"{check.log.stem}-sound").iterdir())
    kept = {hashlib.sha256(file.read_bytes()).hexdigest(): soundfile.info(file) for file in files}
    heard = [entry.event for entry in read(check.log).entries if entry.event.kind == "heard"]
    assert {event.sound for event in heard} == set(kept)
    for event in heard:
        assert kept[event.sound].samplerate == 16_000
        assert kept[event.sound].duration >= (event.end_ms - event.start_ms) / 1000


def test_a_vehicle_that_was_not_told_is_asked_for_by_voice(card, begin) -> None:
    check = begin(vehicle=None)
    sound = Voice(150).render("doubles")
    assert isinstance(sound, Sound)
    for text, answer in (("Is that right?", (sound.samples, sound.rate)), ("Short test", phrases()["yes"])):
        while text not in check.text():
            assert check.process.poll() is None, check.text()
            card.speak_into_microphone(*answer)
            wait_until(lambda shown=text: shown in check.text(), 4)
    assert check.next_said() is not None
    assert read(check.log).header.setup.vehicle.vehicle_class == "doubles"
    assert check.stop(signal.SIGINT) == 1


def test_a_card_that_is_unplugged_in_a_hold_voids_it_and_the_check_goes_on(card, begin) -> None:
    """The own voice leaks strongly as well: nothing that the assistant says may be heard as a reading."""
    card.leak(-10)
    check = begin("--no-keep-sound")
    assert check.answer(until="ask.leak-first"), check.printed.read_text()
    time.sleep(0.4)
    check.speak(ANSWERS["ask.leak-first"])
    while "ask.leak-hold" not in check.prompts():  # this hold is over before a slow machine has spoken that
        assert check.next_entry() is not None, check.printed.read_text()
    before = check.prompts()
    card.unplug()
    while (entry := check.next_entry()) is not None and entry["event"]["kind"] != "device":
        pass
    card.start()
    back = set()
    while back < {"microphone", "loudspeaker"} and (entry := check.next_entry()) is not None:
        if entry["event"].get("state") == "back":
            back.add(entry["event"]["device"])
    told = check.prompts()[len(before) :]
    assert "device.microphone-lost" in told
    assert "device.microphone-back" in told
    assert "hold.broken" in told
    assert check.asked() == "ask.leak-first"
    assert len(check.heard()) <= check.spoken, check.heard()
    assert check.stop(signal.SIGTERM) == 1
    kept = verify(check.log)
    assert not kept.sealed
    taken = [effect for entry in kept.entries for effect in entry.effects if effect.kind == "take"]
    assert {reading.value for take in taken for reading in take.readings} <= {120, 121, 122, 125}
    assert kept.entries[-1].event.kind == "ended" or kept.entries[-1].event.kind == "said"
    assert "Traceback" not in check.printed.read_text()
    assert f"gladhand check --resume {check.log}" in check.printed.read_text()
    again = begin("--resume", str(check.log))
    while (entry := again.next_entry()) is not None and entry["event"]["kind"] != "resumed":
        pass
    assert again.next_said() is not None
    assert "flow.resumed" in again.prompts()
    assert again.asked() == "ask.parked"
    assert again.stop(signal.SIGTERM) == 1
    assert verify(again.log).header.mode == "live"


def test_a_sound_server_that_freezes_is_noticed_and_the_question_is_put_again(card, begin) -> None:
    """Nothing is closed and nothing fails: there is only no more sound, in either direction."""
    check = begin("--no-keep-sound")
    assert check.answer(until="ask.engine-on"), check.printed.read_text()
    heard = len(check.heard())
    card.freeze()
    lost: set[str] = set()
    while "microphone" not in lost and (entry := check.next_entry()) is not None:
        if entry["event"].get("state") == "lost":
            lost.add(entry["event"]["device"])
    card.thaw()
    back: set[str] = set()
    while not back >= lost and (entry := check.next_entry()) is not None:
        if entry["event"].get("state") == "back":
            back.add(entry["event"]["device"])
    assert len(check.heard()) == heard
    assert check.asked() == "ask.engine-on"
    assert check.answer(until="ask.governor-cut-out"), check.printed.read_text()
    assert check.stop(signal.SIGTERM) == 1
    verify(check.log)
    assert "Traceback" not in check.printed.read_text()


def test_without_a_microphone_the_other_ways_are_named(tmp_path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "assistant", "check", "--microphone", "none of these", "--log", str(tmp_path)],
        cwd=ROOT,
        env={**os.environ, "GLADHAND_SETTINGS": str(tmp_path / "none.toml")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3
    assert "--typed" in done.stderr
    assert "--recording" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.glob("*.jsonl"))
