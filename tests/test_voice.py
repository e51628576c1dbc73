"""The voice: lines become sound, whatever the engines do; and a plain reason where there are none."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from card import wait_until

from assistant.core.trouble import Missing, Trouble
from assistant.mouth.engines import CHILD, ChildEngine, EngineFailed, ProgramEngine, VoiceName, read_sound, trimmed
from assistant.mouth.kept import KeptLines
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Silent, Voice

needs_espeak = pytest.mark.skipif(
    shutil.which("espeak-ng") is None, reason="needs a speech engine: apt-get install espeak-ng"
)
LINE = "I heard primary, one hundred and twenty. Is that right?"


class ToneEngine:
    """Renders every line as a short tone. `gate`: it waits there for each line."""

    name = "tone"

    def __init__(self, gate: threading.Event | None = None, fails: str | None = None, for_good: bool = False) -> None:
        self.rendered: list[str] = []
        self.asked = 0
        self.closed = False
        self.fails = fails
        self._for_good = for_good
        self._gate = gate

    def render(self, text: str) -> Sound:
        self.asked += 1
        if self.fails is not None:
            raise EngineFailed(self.fails, self._for_good)
        if self._gate is not None:
            assert self._gate.wait(10)
        self.rendered.append(text)
        return Sound(np.full(100, 5000, np.int16), 22_050)

    def voices(self) -> tuple[VoiceName, ...]:
        if self.fails is not None:
            raise EngineFailed(self.fails, self._for_good)
        return (VoiceName("x/one", "One", "en-us"),)

    def close(self) -> None:
        self.closed = True


class SilentEngine(ToneEngine):
    name = "silent"


@pytest.fixture(scope="module")
def spoken() -> Iterator[Voice]:
    voice = Voice(160)
    yield voice
    voice.close()


# --- the voice -------------------------------------------------------------------------------------------------------


@needs_espeak
def test_a_line_becomes_sound_that_lasts_as_long_as_its_words_at_that_rate(spoken: Voice) -> None:
    """The rate is in words a minute (espeak-ng's manual, option -s), for words of usual length (4.7 letters on the
    average in English, common knowledge, no source): 25 of them take 9 s at 160."""
    words = (
        "Pressure in the reservoirs drives every brake of this vehicle, and the gauge beside the wheel tells "
        "the driver how much of it is left"
    )
    sound = spoken.render(words)
    assert isinstance(sound, Sound)
    assert np.abs(sound.samples.astype(int)).max() > 10_000
    assert sound.seconds == pytest.approx(len(words.split()) / 160 * 60, rel=0.35)


@needs_espeak
def test_a_faster_voice_takes_less_time(spoken: Voice) -> None:
    fast = Voice(320)
    quick, slow = fast.render(LINE), spoken.render(LINE)
    fast.close()
    assert isinstance(quick, Sound)
    assert isinstance(slow, Sound)
    assert quick.seconds < 0.7 * slow.seconds


@needs_espeak
def test_both_engines_say_a_line_alike() -> None:
    """The same synthesiser by two ways: the child process, and the program."""
    child, program = ChildEngine(160, 1.0, ""), ProgramEngine(160, 1.0, "")
    one, other = child.render(LINE), program.render(LINE)
    child.close()
    assert one.rate == other.rate
    assert one.seconds == pytest.approx(other.seconds, rel=0.02)


@needs_espeak
def test_the_quiet_third_of_a_second_behind_a_line_is_left_out(spoken: Voice) -> None:
    sound = spoken.render(LINE)
    assert isinstance(sound, Sound)
    assert np.abs(sound.samples[-round(0.05 * sound.rate) :].astype(int)).max() > 60


@needs_espeak
def test_the_installed_voices_are_listed_by_name_and_an_unknown_one_is_refused(spoken: Voice) -> None:
    assert any(voice.language == "en-us" for voice in spoken.voices())
    spoken.check_voice("english (america)")
    with pytest.raises(Missing, match='No voice is called "Nobody"'):
        spoken.check_voice("Nobody")


def test_a_line_is_rendered_once() -> None:
    engine = ToneEngine()
    voice = Voice(engines=[engine])
    assert voice.render("again") is voice.render("again")
    voice.close()
    assert engine.rendered == ["again"]


def test_a_line_that_is_wanted_now_overtakes_those_that_are_prepared() -> None:
    gate = threading.Event()
    engine = ToneEngine(gate)
    voice = Voice(engines=[engine])
    voice.prepare(["ahead 1"])
    assert wait_until(lambda: engine.asked == 1)
    voice.prepare(["ahead 2", "ahead 3"])
    waiting = threading.Thread(target=voice.render, args=("now",))
    waiting.start()
    assert wait_until(lambda: voice._jobs.qsize() == 3)
    gate.set()
    waiting.join(10)
    assert wait_until(lambda: len(engine.rendered) == 4)
    voice.close()
    assert engine.rendered == ["ahead 1", "now", "ahead 2", "ahead 3"]


def test_a_blank_line_is_an_empty_sound_and_no_work() -> None:
    engine = ToneEngine()
    voice = Voice(engines=[engine])
    sound = voice.render("  \n")
    voice.close()
    assert isinstance(sound, Sound)
    assert sound.seconds == 0
    assert engine.asked == 0


def test_the_next_engine_speaks_where_the_first_one_is_not_there() -> None:
    absent, tone = SilentEngine(fails="not installed", for_good=True), ToneEngine()
    voice = Voice(engines=[absent, tone])
    assert isinstance(voice.render("one"), Sound)
    assert isinstance(voice.render("two"), Sound)
    assert voice.voices() == tone.voices()
    voice.close()
    assert absent.asked == 1, "an engine that is not there is not asked again"


def test_an_engine_that_fails_for_two_lines_in_a_row_is_given_up() -> None:
    bad, tone = SilentEngine(fails="it did not answer"), ToneEngine()
    voice = Voice(engines=[bad, tone])
    for line in ("one", "two", "three"):
        assert isinstance(voice.render(line), Sound)
    assert bad.asked == 2
    assert bad.closed
    voice.close()


def test_an_engine_that_fails_once_is_asked_again() -> None:
    weak = ToneEngine(fails="it did not answer")
    voice = Voice(engines=[weak])
    assert isinstance(voice.render("one"), Silent)
    weak.fails = None
    assert isinstance(voice.render("one"), Sound)
    voice.close()


def test_without_any_engine_a_line_is_silent_and_says_what_to_install(tmp_path: Path) -> None:
    absent = str(tmp_path / "absent")
    voice = Voice(engines=[ChildEngine(160, 1.0, "", command=[absent]), ProgramEngine(160, 1.0, "", programs=[absent])])
    silent = voice.render(LINE)
    assert voice.voices() == ()
    voice.check_voice("any")
    voice.close()
    assert isinstance(silent, Silent)
    assert "the program is not installed" in silent.reason
    assert "apt-get install espeak-ng" in silent.reason
    assert "shown and not spoken" in silent.reason


def test_a_voice_that_was_closed_still_says_the_lines_it_kept_and_is_silent_otherwise() -> None:
    voice = Voice(engines=[ToneEngine()])
    voice.render("kept")
    voice.close()
    assert isinstance(voice.render("kept"), Sound)
    assert isinstance(voice.render("new"), Silent)


@pytest.mark.parametrize(("rate", "volume"), [(20, 1.0), (1000, 1.0), (160, -0.1), (160, 1.5), (160, float("nan"))])
def test_a_rate_or_a_loudness_that_can_not_be_is_refused(rate: int, volume: float) -> None:
    with pytest.raises(Trouble, match="Choose"):
        Voice(rate, volume, engines=[])


def test_kept_lines_stay_within_their_limit_and_the_longest_unused_goes_first() -> None:
    kept = KeptLines(most_bytes=600)
    a_third = Sound(np.zeros(100, np.int16), 22_050)
    for text in ("one", "two", "three"):
        kept.put(text, a_third)
    assert kept.get("one") is a_third
    kept.put("four", a_third)
    assert [text for text in ("one", "two", "three", "four") if kept.get(text)] == ["one", "three", "four"]


# --- the child process -----------------------------------------------------------------------------------------------

SCRIPT = """
import json, pathlib, sys, time, wave
count = pathlib.Path({count!r})
start = int(count.read_text()) + 1 if count.exists() else 1
count.write_text(str(start))
print(json.dumps({{"voices": []}}), flush=True)
for line in sys.stdin:
    request = json.loads(line)
    if start <= {bad}:
        {misdeed}
    with wave.open(request["file"], "wb") as out:
        out.setnchannels(1); out.setsampwidth(2); out.setframerate(22050); out.writeframes(b"\\x00\\x40" * 2205)
    print(json.dumps({{"done": request["file"]}}), flush=True)
"""


def child(tmp_path: Path, misdeed: str, bad: int) -> ChildEngine:
    """An engine whose first `bad` processes do `misdeed` instead of their work."""
    script = tmp_path / "child.py"
    script.write_text(SCRIPT.format(count=str(tmp_path / "count"), misdeed=misdeed, bad=bad))
    return ChildEngine(160, 1.0, "", command=[sys.executable, str(script)], answer_limit_s=1.0)


MISDEEDS = {
    "hangs": "time.sleep(60)",
    "dies": "sys.exit(1)",
    "writes no file": "print(json.dumps({'done': ''}), flush=True); continue",
    "writes no sound": "pathlib.Path(request['file']).write_text('x'); print('{}', flush=True); continue",
}


@pytest.mark.parametrize("misdeed", MISDEEDS)
def test_a_child_that_fails_is_started_again_and_the_line_still_comes(tmp_path: Path, misdeed: str) -> None:
    engine = child(tmp_path, MISDEEDS[misdeed], bad=1)
    sound = engine.render(LINE)
    engine.close()
    assert sound.seconds == pytest.approx(0.1, abs=0.001)
    assert engine.starts == 2


@pytest.mark.parametrize("misdeed", MISDEEDS)
def test_a_child_that_fails_twice_for_a_line_has_failed(tmp_path: Path, misdeed: str) -> None:
    engine = child(tmp_path, MISDEEDS[misdeed], bad=2)
    with pytest.raises(EngineFailed) as failure:
        engine.render(LINE)
    assert not failure.value.for_good
    assert engine.render(LINE).seconds > 0, "and it is there for the next one"
    engine.close()
    assert engine.starts == 3


@needs_espeak
def test_a_child_that_was_killed_from_outside_is_replaced_unnoticed() -> None:
    engine = ChildEngine(160, 1.0, "")
    first = engine.render(LINE)
    assert engine._child is not None
    engine._child.kill()
    again = engine.render(LINE)
    engine.close()
    assert engine.starts == 2
    assert again.seconds == pytest.approx(first.seconds, rel=0.02)


@needs_espeak
def test_the_child_ends_with_its_parent_even_when_nobody_kills_it() -> None:
    process = subprocess.Popen(
        [*CHILD, "160", "1.0", ""], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stdout.readline().startswith(b'{"voices"')
    process.stdin.close()
    assert process.wait(10) == 0
    process.stdout.close()


def test_a_child_without_a_speech_engine_says_so_for_good(tmp_path: Path) -> None:
    (tmp_path / "pyttsx3.py").write_text("raise RuntimeError('no speech engine here')")
    start = tmp_path / "start.py"
    start.write_text(f"import runpy; runpy.run_path({CHILD[-1]!r}, run_name='__main__')")
    engine = ChildEngine(160, 1.0, "", command=[sys.executable, str(start)])
    with pytest.raises(EngineFailed, match="no speech engine here") as failure:
        engine.render(LINE)
    engine.close()
    assert failure.value.for_good
    assert engine.starts == 1


@needs_espeak
def test_text_with_quotes_newlines_and_other_scripts_is_spoken_by_both_engines() -> None:
    text = 'He said: "stop"\n\\ then — 5 °C, naïve, 空気'
    for engine in (ChildEngine(160, 1.0, ""), ProgramEngine(160, 1.0, "")):
        assert engine.render(text).seconds > 1
        engine.close()


def test_a_text_is_never_taken_for_an_option_of_the_program(tmp_path: Path) -> None:
    program = tmp_path / "speaker"
    program.write_text(f"#!/bin/sh\nprintf '%s\\n' \"$@\" > '{tmp_path}/arguments'\ncat > '{tmp_path}/input'\nexit 3\n")
    program.chmod(0o755)
    if os.name != "posix":
        pytest.skip("the stand-in is a shell script")
    with pytest.raises(EngineFailed, match="the program failed"):
        ProgramEngine(160, 0.5, "", programs=[str(program)]).render("--help; rm -rf x")
    assert (tmp_path / "input").read_text() == "--help; rm -rf x"
    assert (tmp_path / "arguments").read_text().split("\n")[:-3] == ["-v", "en-us", "-s", "160", "-a", "50"]


def test_what_is_no_sound_file_is_refused_and_silence_trims_to_nothing() -> None:
    with pytest.raises(EngineFailed, match="no sound"):
        read_sound(b"not a sound file")
    assert len(trimmed(Sound(np.zeros(1000, np.int16), 22_050)).samples) == 0
