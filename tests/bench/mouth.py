"""Figures of the mouth and the microphone: `python -m tests.bench.mouth` in the project's folder.

Prints rendering times, the delay from play to the first sound and from cut to silence at the loudspeaker (on the
virtual sound card, so without the delays of a real device), how exactly the end of a sound is known, how steadily the
microphone counts, and what 300 lines cost in memory and processor time. Limits: tests/test_player.py.
"""

from __future__ import annotations

import os
import queue
import resource
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))

from card import Card, why_not

from assistant.ears.microphone import RATE_HZ, Microphone
from assistant.mouth.engines import ChildEngine, Engine, ProgramEngine
from assistant.mouth.player import Played, Player
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Voice
from assistant.soundcard.portaudio import SoundCard

LINES = 300
ROUNDS = 25
AUDIBLE = 300


def line(number: int) -> str:
    return f"I heard primary, {number}. Is that right?"


def spread(name: str, seconds: Sequence[float]) -> None:
    median, high, most = (1000 * x for x in (*np.percentile(seconds, [50, 95]), max(seconds)))
    print(f"{name:<52} median {median:7.1f} ms   p95 {high:7.1f}   max {most:7.1f}   n {len(seconds)}")


def took(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def resident_mb(process: str = "self") -> float:
    pages = Path(f"/proc/{process}/statm").read_text().split()[1]
    return int(pages) * os.sysconf("SC_PAGE_SIZE") / 1e6


def rendering() -> None:
    engines: list[tuple[str, Engine]] = [
        ("pyttsx3 in its child", ChildEngine(160, 1.0, "")),
        ("espeak-ng program", ProgramEngine(160, 1.0, "")),
    ]
    for name, engine in engines:
        print(f"{name}: first line after {1000 * took(lambda e=engine: e.render('Begin.')):.0f} ms")
        spread(f"{name}: a line", [took(lambda e=engine, n=n: e.render(line(n))) for n in range(100)])
        print(
            f"{name}: {engine.render('word ' * 160).seconds:.0f} s of speech in "
            f"{1000 * took(lambda e=engine: e.render('word ' * 160)):.0f} ms"
        )
        engine.close()


def captured(tap: Microphone, seconds: float) -> tuple[NDArray[np.int16], float]:
    while tap.blocks.qsize():
        tap.blocks.get()
    blocks = [tap.blocks.get(timeout=5) for _ in range(round(seconds / 0.05))]
    return np.concatenate([block.samples for block in blocks]), blocks[0].captured_at


def latencies(player: Player, tap: Microphone) -> None:
    starts, stops, starts_known, ends_known = [], [], [], []
    loud = Sound((9000 * np.sin(np.arange(22050) / 8)).astype(np.int16), 22050)
    told: queue.SimpleQueue[Played] = queue.SimpleQueue()
    for turn in range(ROUNDS):
        cutting = turn % 2 == 0
        captured(tap, 0.1)
        asked = time.monotonic()
        player.play(loud if cutting else Sound(loud.samples[:6000], 22050), told.put)
        if cutting:
            time.sleep(0.25 + 0.003 * turn)
            stopped = time.monotonic()
            player.cut()
        samples, begin = captured_since(tap, asked, 0.8)
        heard = begin + np.flatnonzero(np.abs(samples.astype(int)) > AUDIBLE) / RATE_HZ
        played = told.get(timeout=5)
        assert played.began is not None
        starts.append(heard[0] - asked)
        starts_known.append(abs(heard[0] - played.began))
        ends_known.append(abs(heard[-1] - played.ended))
        if cutting:
            stops.append(heard[-1] - stopped)
    spread("play to first sound at the loudspeaker", starts)
    spread("cut to silence at the loudspeaker", stops)
    spread("error of the told beginning", starts_known)
    spread("error of the told end", ends_known)


def captured_since(tap: Microphone, moment: float, seconds: float) -> tuple[NDArray[np.int16], float]:
    blocks = []
    while not blocks or blocks[-1].captured_at < moment + seconds:
        block = tap.blocks.get(timeout=5)
        if block.captured_at >= moment - 0.05:
            blocks.append(block)
    return np.concatenate([block.samples for block in blocks]), blocks[0].captured_at


def counting(microphone: Microphone, seconds: float) -> None:
    while microphone.blocks.qsize():
        microphone.blocks.get()
    came, blocks = [], []
    while not came or came[-1] < came[0] + seconds:
        blocks.append(microphone.blocks.get(timeout=5))
        came.append(time.monotonic())
    counted = (blocks[-1].first - blocks[0].first) / RATE_HZ
    print(f"microphone: {counted:.3f} s counted in {came[-1] - came[0]:.3f} s of the clock, {microphone.gaps} gaps")
    delays = [moment - block.captured_at - 0.05 for moment, block in zip(came, blocks, strict=True)]
    spread("end of a block to its delivery", delays)


def endurance(voice: Voice, player: Player, microphone: Microphone) -> None:
    """300 different lines, rendered and begun, each cut after 50 ms, the microphone running."""
    before = [0.0, 0.0]
    for number in range(LINES):
        sound = voice.render(line(number))
        assert isinstance(sound, Sound)
        player.play(sound)
        time.sleep(0.05)
        player.cut()
        while microphone.blocks.qsize():
            microphone.blocks.get()
        if number == 20:
            before = [resident_mb(), cpu_s()]
            begin = time.monotonic()
    share = (cpu_s() - before[1]) / (time.monotonic() - begin)
    print(
        f"{LINES} lines: memory {before[0]:.1f} MB after 20, {resident_mb():.1f} MB at the end "
        f"(8 MB of them kept lines); {share:.0%} of a core; underflows {player.underflows}, gaps {microphone.gaps}"
    )


def cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def main() -> None:
    reason = why_not()
    if reason:
        sys.exit(reason)
    virtual = Card()
    os.environ.update(virtual.environment)
    virtual.start()
    card, voice = SoundCard(), Voice()
    player, microphone, tap = Player(card), Microphone(card), Microphone(card, "tap")
    try:
        print(f"open loudspeaker {1000 * took(player.open):.0f} ms, microphone {1000 * took(microphone.open):.0f} ms")
        tap.open()
        rendering()
        latencies(player, tap)
        tap.close()
        counting(microphone, 10.0)
        endurance(voice, player, microphone)
    finally:
        for each in (player, microphone, tap, voice):
            each.close()
        virtual.remove()


if __name__ == "__main__":
    main()
