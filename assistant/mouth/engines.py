"""The ways to turn a text into samples: a pyttsx3 child process, or the program espeak-ng.

Law: no engine may block its caller for longer than its limit. One that hangs or dies is killed, started again and
asked once more; then it has failed for this text.
"""

from __future__ import annotations

import contextlib
import io
import json
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Protocol

import numpy as np
import soundfile

from assistant.mouth.sound import Sound

START_LIMIT_S = 10.0
ANSWER_LIMIT_S = 2.0  # a line takes some 10 ms, a minute of speech 70
AUDIBLE = 60  # of 32768
TAIL_S = 0.02
CHILD = (sys.executable, "-P", str(Path(__file__).with_name("voice_child.py")))
PROGRAMS = ("espeak-ng", "espeak")
DEFAULT_VOICE = "en-us"


@dataclass(frozen=True)
class VoiceName:
    """A voice that is installed. `language`: as in "en-us", "" when the engine does not say."""

    id: str
    name: str
    language: str


class EngineFailed(Exception):
    """This text was not rendered. `for_good`: the engine is not there, so no other text will be."""

    def __init__(self, reason: str, for_good: bool = False) -> None:
        super().__init__(reason)
        self.for_good = for_good


class Engine(Protocol):
    """Used by one thread, except `close`."""

    name: str

    def render(self, text: str) -> Sound:
        """The samples of a text that is not blank. Raises EngineFailed."""
        ...

    def voices(self) -> tuple[VoiceName, ...]:
        """What is installed. Raises EngineFailed."""
        ...

    def close(self) -> None: ...


class ChildEngine:
    """pyttsx3 in a child process. `command`: what starts it; the three settings are added."""

    name = "pyttsx3"

    def __init__(
        self,
        rate_wpm: int,
        volume: float,
        voice_id: str,
        command: Sequence[str] = CHILD,
        answer_limit_s: float = ANSWER_LIMIT_S,
    ) -> None:
        self._command = [*command, str(rate_wpm), str(volume), voice_id]
        self._answer_limit_s = answer_limit_s
        self._folder = tempfile.TemporaryDirectory(prefix="gladhand-voice-")
        self._file = Path(self._folder.name) / "line.wav"
        self._child: subprocess.Popen[str] | None = None
        self._answers: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._voices: tuple[VoiceName, ...] = ()
        self.starts = 0

    def render(self, text: str) -> Sound:
        """See Engine. The second try has a fresh child."""
        for last in (False, True):
            try:
                self._start()
                self._ask({"text": text, "file": str(self._file)}, self._answer_limit_s)
                return trimmed(read_sound(self._file.read_bytes()))
            except EngineFailed as failure:
                self._stop()
                if last or failure.for_good:
                    raise
            except OSError as error:
                self._stop()
                if last:
                    raise EngineFailed(f"its file can't be read ({error})") from error
        raise AssertionError("two tries, and the last one raises")

    def voices(self) -> tuple[VoiceName, ...]:
        self._start()
        return self._voices

    def close(self) -> None:
        self._stop()
        with contextlib.suppress(OSError):
            self._folder.cleanup()

    def _start(self) -> None:
        if self._child is not None and self._child.poll() is None:
            return
        self._stop()
        try:
            self._child = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                encoding="utf-8",
            )
        except OSError as error:
            raise EngineFailed(f"its process can't be started ({error})", for_good=True) from error
        self.starts += 1
        self._answers = queue.SimpleQueue()
        assert self._child.stdout is not None  # a pipe was asked for
        threading.Thread(
            target=_pass_on, args=(self._child.stdout, self._answers), name="voice answers", daemon=True
        ).start()
        greeting = self._answer(START_LIMIT_S)
        if "error" in greeting:
            raise EngineFailed(f"it found no speech engine ({greeting['error']})", for_good=True)
        self._voices = tuple(VoiceName(*voice) for voice in greeting["voices"])

    def _ask(self, request: dict[str, str], limit_s: float) -> None:
        assert self._child is not None  # _start came before
        assert self._child.stdin is not None  # a pipe was asked for
        self._file.unlink(missing_ok=True)
        self._child.stdin.write(json.dumps(request) + "\n")
        self._child.stdin.flush()
        self._answer(limit_s)

    def _answer(self, limit_s: float) -> dict[str, Any]:
        try:
            line = self._answers.get(timeout=limit_s)
        except queue.Empty:
            raise EngineFailed(f"it did not answer within {limit_s:g} s") from None
        if line is None:
            raise EngineFailed("its process ended")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def _stop(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()


class ProgramEngine:
    """The program espeak-ng (or espeak), started once for each text; it has no way to hang that a kill does not end."""

    def __init__(
        self,
        rate_wpm: int,
        volume: float,
        voice_id: str,
        programs: Sequence[str] = PROGRAMS,
        answer_limit_s: float = ANSWER_LIMIT_S,
    ) -> None:
        self._path = next((path for path in map(shutil.which, programs) if path), None)
        self.name = programs[0]
        self._answer_limit_s = answer_limit_s
        self._settings = ["-v", voice_id or DEFAULT_VOICE, "-s", str(rate_wpm), "-a", str(round(100 * volume))]

    def render(self, text: str) -> Sound:
        """See Engine."""
        return trimmed(read_sound(self._run([*self._settings, "--stdin", "--stdout"], text)))

    def voices(self) -> tuple[VoiceName, ...]:
        lines = self._run(["--voices"], "").decode("utf-8", "replace").splitlines()[1:]
        rows = [line.split() for line in lines]  # priority, language, age and gender, name, file, others
        return tuple(VoiceName(row[4], row[3].replace("_", " "), row[1]) for row in rows if len(row) >= 5)

    def close(self) -> None: ...

    def _run(self, arguments: list[str], text: str) -> bytes:
        if self._path is None:
            raise EngineFailed("the program is not installed", for_good=True)
        try:
            ran = subprocess.run(
                [self._path, *arguments],
                input=text.encode("utf-8"),
                capture_output=True,
                timeout=self._answer_limit_s,
                check=True,
            )
        except (OSError, subprocess.SubprocessError) as error:
            raise EngineFailed(f"the program failed ({error})") from error
        return ran.stdout


def _pass_on(answers: IO[str], into: queue.SimpleQueue[str | None]) -> None:
    """Runs on its own thread for each child, so that waiting for an answer can have a limit on every platform."""
    with contextlib.suppress(OSError, ValueError):
        for line in answers:
            into.put(line)
    into.put(None)


def read_sound(data: bytes) -> Sound:
    """The sound in a WAV or AIFF file, several channels mixed to one. Raises EngineFailed when it is neither."""
    try:
        samples, rate = soundfile.read(io.BytesIO(data), dtype="int16", always_2d=True)
    except (soundfile.LibsndfileError, RuntimeError) as error:
        raise EngineFailed(f"it delivered no sound ({error})") from error
    return Sound(samples.mean(axis=1).astype(np.int16), int(rate))


def trimmed(sound: Sound) -> Sound:
    """Without the silence at its ends (a third of a second after each line), so that the ears can open sooner."""
    audible = np.flatnonzero(np.abs(sound.samples.astype(np.int32)) > AUDIBLE)
    if not len(audible):
        return Sound(sound.samples[:0], sound.rate)
    tail = round(TAIL_S * sound.rate)
    return Sound(sound.samples[audible[0] : audible[-1] + tail].copy(), sound.rate)
