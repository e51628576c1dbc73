"""A driver in the virtual cab: speaks into the microphone of a `Card` when the assistant has asked.

What the assistant asks is read from its log, where it stands before it is spoken; when its last word has left is the
`said` entry. The words are cut out of audio_fixtures/answers.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from card import Card
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parent.parent
ANSWERS: Mapping[str, str] = {
    "ask.parked": "brakes are set",
    "ask.chocked": "wheels are chocked",
    "ask.clear": "yes",
    "ask.engine-on": "engine running",
    "ask.governor-cut-out": "one twenty five",
    "ask.released-trailer": "brakes released",
    "ask.charged": "done",
    "ask.engine-off": "engine is off",
    "ask.leak-first": "primary one twenty two, secondary one twenty one",
    "ask.leak-last": "primary one twenty one, secondary one twenty",
}
LONGEST_S = 150.0  # only ends a test that has failed


@cache
def phrases() -> dict[str, tuple[NDArray[np.int16], int]]:
    """Every answer that was recorded, as samples and rate."""
    folder = ROOT / "audio_fixtures" / "answers"
    about = tomllib.loads((folder / "manifest.toml").read_text(encoding="utf-8"))
    track, rate = soundfile.read(folder / about["recording"], dtype="int16")
    found = {}
    for here, after in zip(about["said"], [*about["said"][1:], {"at_ms": 1000 * len(track) // rate}], strict=True):
        part = track[(here["at_ms"] - 50) * rate // 1000 : (after["at_ms"] - 300) * rate // 1000]
        blocks = np.abs(part[: len(part) // 800 * 800].astype(int)).reshape(-1, 800).max(axis=1)
        last = int(np.flatnonzero(blocks > blocks.max() / 10)[-1])
        found[here["text"]] = (part[: (last + 2) * 800], rate)
    return found


CHECK = ("check", "--brief", "--rate", "280")


class LiveCheck:
    """`gladhand check`, or another live `command`, as a process of its own, on the virtual card, with the short
    standard of the tests and the settings file `folder`/settings.toml."""

    def __init__(
        self,
        card: Card,
        folder: Path,
        *options: str,
        command: tuple[str, ...] = CHECK,
        standard: str = "short",
        vehicle: str | None = "combination",
    ) -> None:
        self._card = card
        self._folder = folder
        self._read = 0
        self.spoken = 0
        self.entries: list[dict[str, Any]] = []
        told = () if vehicle is None else ("--vehicle", vehicle)
        arguments = (*command, *told, "--standard", standard, *options)
        environment = {
            **os.environ,
            **card.environment,
            "GLADHAND_STANDARDS": str(ROOT / "tests" / "short_standard"),
            "GLADHAND_SETTINGS": str(folder / "settings.toml"),
            "NO_COLOR": "1",
        }
        self.printed = folder / "printed.txt"
        with self.printed.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "assistant", *arguments, "--log", str(folder / "logs")],
                cwd=ROOT,
                env=environment,
                stdout=out,
                stderr=subprocess.STDOUT,
            )

    @property
    def log(self) -> Path:
        (found,) = (self._folder / "logs").glob("*.jsonl")
        return found

    def next_said(self) -> dict[str, Any] | None:
        """The next time that the assistant has finished speaking; None when the process is over."""
        while (entry := self.next_entry()) is not None:
            if entry["event"]["kind"] == "said":
                return entry
        return None

    def next_entry(self) -> dict[str, Any] | None:
        """The next entry of the log, waited for; None when the process is over and nothing is left."""
        end = time.monotonic() + LONGEST_S
        while self._read >= len(self.entries):
            running = self.process.poll() is None
            self.entries = self._in_log()
            if self._read >= len(self.entries):
                if not running:
                    return None
                if time.monotonic() > end:
                    raise AssertionError(self.printed.read_text())
                time.sleep(0.02)
        self._read += 1
        return self.entries[self._read - 1]

    def asked(self) -> str:
        """The prompt of the question that was put last."""
        return next(prompt for prompt in reversed(self.prompts()) if prompt.startswith("ask."))

    def prompts(self) -> list[str]:
        """Everything that was said so far, by prompt."""
        effects = [effect for entry in self.entries[: self._read] for effect in entry["effects"]]
        return [line["prompt"] for effect in effects if effect["kind"] == "say" for line in effect["lines"]]

    def has_more_to_say(self) -> bool:
        """Whether something is not yet spoken."""
        entries = self.entries[: self._read]
        given = sum(effect["kind"] == "say" for entry in entries for effect in entry["effects"])
        return given > sum(entry["event"]["kind"] == "said" for entry in entries)

    def catch_up(self) -> None:
        """Pass over what was logged since, and wait until nothing is being said: a question may be put again while its
        answer takes long."""
        self.entries = self._in_log()
        self._read = len(self.entries)
        while self.has_more_to_say() and self.next_said() is not None:
            pass

    def text(self) -> str:
        """What was printed so far, on one line."""
        return " ".join(self.printed.read_text().replace("gladhand", " ").split())

    def heard(self) -> list[str]:
        return [entry["event"]["text"] for entry in self.entries if entry["event"]["kind"] == "heard"]

    def speak(self, phrase: str) -> None:
        self.spoken += 1
        self._card.speak_into_microphone(*phrases()[phrase])

    @staticmethod
    def length(phrase: str) -> float:
        """Seconds that a phrase takes."""
        samples, rate = phrases()[phrase]
        return len(samples) / rate

    def answer(self, answers: Mapping[str, str] = ANSWERS, until: str | None = None, after_s: float = 0.4) -> bool:
        """Answer every question until the check is over, or until the question `until`; whether that was reached."""
        while self.next_said() is not None:
            asked = self.asked()
            if asked == until:
                return True
            if asked in answers:
                time.sleep(after_s)
                self.speak(answers[asked])
        return False

    def stop(self, number: signal.Signals) -> int:
        self.process.send_signal(number)
        return self.process.wait(LONGEST_S)

    def _in_log(self) -> list[dict[str, Any]]:
        found = list((self._folder / "logs").glob("*.jsonl"))
        if not found:
            return []
        lines = found[0].read_text(encoding="utf-8").split("\n")[:-1]
        return [entry for entry in map(json.loads, lines) if entry["kind"] == "entry"]
