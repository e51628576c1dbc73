"""Figures of the live check: `python -m tests.bench.live [--standard ID] [--pause S] [--stops N]`, in the folder of the
project.

The command itself runs on the virtual sound card and is answered with the recorded answers. Both the
microphone and the loudspeaker are recorded on one clock, so that what is measured is sound and not log entries. Prints
delays in ms, the error of the time between spoken words, memory and processor time. With `--standard common-practice`
a whole check of some ten minutes, with `--pause 36` of some twenty; the default is the short standard of the tests.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from card import Card, why_not
from live_driver import ANSWERS, LiveCheck

from assistant.ears.microphone import RATE_HZ
from assistant.soundcard.portaudio import SoundCard
from tests.bench.live_watch import Line, Watched
from tests.bench.sounds import speak, voices

WHOLE = {
    **ANSWERS,
    "ask.build-up-below": "ninety two, correction, eighty two",
    "ask.build-up-start": "start",
    "ask.build-up-mark": "mark",
    "ask.governor-cut-in": "one oh two",
    "ask.pedal": "pedal down",
    "ask.low-air-warning": "sixty two, light and buzzer on",
    "ask.trailer-supply-pop-out": "trailer knob popped at thirty eight",
    "ask.parking-valve-pop-out": "parking knob popped at thirty two",
    "ask.rebuilt": "primary one ten, secondary one oh nine",
    "ask.chocks-out": "chocks are out",
    "ask.way-clear": "yes",
    "ask.parking-tug-trailer": "it held",
    "ask.trailer-set": "done",
    "ask.trailer-tug": "it held",
    "ask.hand-valve": "yes",
    "ask.service-brake": "it pulls left",
}
SAME = "primary one twenty one, secondary one twenty"  # at both ends of a hold: only the clocks differ
OFTEN = 6  # times that an answer is given again
READINGS = ("ask.governor-cut-out", "ask.leak-first", "ask.leak-last", "ask.governor-cut-in")


def percentiles(values: Sequence[float]) -> str:
    known = [1000 * value for value in values if not np.isnan(value)]
    if not known:
        return "none"
    middle, high = np.percentile(known, [50, 95])
    return f"median {middle:.0f}, p95 {high:.0f}, most {max(known):.0f} ms ({len(known)})"


class Bench:
    """One check, answered and measured."""

    def __init__(self, card: Card, standard: str) -> None:
        sound = SoundCard()
        self.speaker, self.microphone = Line(sound, "tap"), Line(sound, "default")
        time.sleep(0.5)
        self._card = card
        self.started = time.monotonic()
        self.check = LiveCheck(card, Path(tempfile.mkdtemp()), standard=standard)
        self.watched = Watched(self.check.process.pid)
        self.answers: list[tuple[str, float, float]] = []  # question, when the words began and when they had ended

    def answer(self, until: str | None = None, pause_s: float = 0.4) -> None:
        for prompt in ("ask.leak-first", "ask.leak-last"):
            WHOLE[prompt] = SAME
        given: Counter[str] = Counter()
        while self.check.next_said() is not None:
            asked = self.check.asked()
            if asked == until:
                return
            if asked in WHOLE and not self.check.has_more_to_say():  # after the last question come the verdicts
                if given[asked] == OFTEN:
                    print(f"given up: {WHOLE[asked]!r} was in doubt {OFTEN} times, heard as {self.check.heard()[-1]!r}")
                    return
                given[asked] += 1
                time.sleep(pause_s)
                self.check.catch_up()
                self.speak(asked, WHOLE[asked])
                self.watched.look()

    def speak(self, asked: str, phrase: str) -> None:
        before = time.monotonic()
        self.check.speak(phrase)
        end = before + 0.06 + self.check.length(phrase) + 0.3
        time.sleep(end - time.monotonic())
        self.answers.append((asked, self.microphone.first_after(before), self.microphone.last_before(end)))

    def stops(self, count: int) -> list[float]:
        """Say continue over a long line, again and again: from the beginning of the word to silence."""
        voice = voices()[0]
        rng = np.random.default_rng(7)
        words = {text: (32768 * speak(voice, text, rng)).astype(np.int16) for text in ("stop", "continue")}
        found = []
        for _ in range(count):
            self._card.speak_into_microphone(words["stop"], RATE_HZ)
            while (entry := self.check.next_entry()) is not None and "flow.stopped" not in str(entry["effects"]):
                pass
            time.sleep(1.5)
            before = time.monotonic()
            self._card.speak_into_microphone(words["continue"], RATE_HZ)
            time.sleep(0.9)
            began, silent = self.microphone.first_after(before), self.speaker.last_before(before + 0.9)
            found.append(silent - began if silent < before + 0.85 else float("nan"))
            while (entry := self.check.next_said()) is not None and "Parking brake" not in entry["event"]["text"]:
                pass
            time.sleep(0.6)
        return found


def spoken_times(bench: Bench) -> None:
    """How well the times in the log fit the sound, clock against clock: each utterance with the answer that it was."""
    starts = [e["event"]["start_ms"] / 1000 for e in bench.check.entries if e["event"]["kind"] == "heard"]
    zero = bench.answers[0][1] - starts[0]
    offsets: dict[str, float] = {}
    for asked, began, _ in bench.answers:
        nearest = min(starts, key=lambda start: abs(began - zero - start))
        if abs(began - zero - nearest) < 0.5:
            offsets[asked] = began - nearest
    off = np.abs(np.array(list(offsets.values())) - np.median(list(offsets.values())))
    print(f"beginning of an utterance in the log against the sound: {percentiles(list(off))} off")
    if {"ask.leak-first", "ask.leak-last"} <= offsets.keys():
        error = offsets["ask.leak-last"] - offsets["ask.leak-first"]
        print(f"length of the hold, spoken words in the log against the sound: {1000 * error:+.0f} ms")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("--standard", default="short")
    options.add_argument("--pause", type=float, default=0.4, help="seconds before each answer")
    options.add_argument("--stops", type=int, default=0, help="interruptions to measure, in a check of their own")
    options.add_argument("--leak", type=float, help="dB of the loudspeaker in the microphone")
    chosen = options.parse_args()
    if reason := why_not():
        raise SystemExit(reason)
    card = Card()
    os.environ.update(card.environment)
    card.start()
    if chosen.leak is not None:
        card.leak(chosen.leak)
    bench = Bench(card, chosen.standard)
    try:
        if chosen.stops:
            bench.answer(until="ask.governor-cut-out")
            print(f"word to silence over a line: {percentiles(bench.stops(chosen.stops))} of {chosen.stops}")
            return
        bench.answer(pause_s=chosen.pause)
        report(bench)
    finally:
        if bench.check.process.poll() is None:
            bench.check.process.kill()
        card.remove()


def report(bench: Bench) -> None:
    first = bench.speaker.first_after(bench.started) - bench.started
    print(f"command to the first sound: {first:.2f} s")
    delays = {asked: [] for asked, _, _ in bench.answers}
    for asked, _, ended in bench.answers:
        delays[asked].append(bench.speaker.first_after(ended) - ended)
    every = [delay for several in delays.values() for delay in several]
    print(f"end of speech to the first sound of the answer: {percentiles(every)}")
    readings = [delay for asked in READINGS for delay in delays.get(asked, [])]
    print(f"the same for readings: {percentiles(readings)}")
    spoken_times(bench)
    gaps = sum(entry["event"].get("gap", False) for entry in bench.check.entries)
    minutes = (bench.answers[-1][2] - bench.started) / 60
    memory = bench.watched.megabytes
    print(f"{minutes:.1f} minutes; utterances with lost samples: {gaps}")
    quarters = ", ".join(f"{memory[round(at * (len(memory) - 1) / 4)]:.0f}" for at in range(5))
    print(f"memory after the first answer, a quarter of the answers, half of them, and so on: {quarters} MB")
    print(f"processor: {100 * bench.watched.cpu_s / (60 * minutes):.0f} % of one core on average")


if __name__ == "__main__":
    main()
