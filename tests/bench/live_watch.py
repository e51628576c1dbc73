"""What is watched while a live check runs: sound lines, recorded, and the memory and processor time of a process."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.ears.microphone import RATE_HZ, Microphone
from assistant.soundcard.portaudio import SoundCard

STEP = RATE_HZ // 200  # 5 ms
LOUD = 400  # of 32768; the noise of the recorded answers stays below


class Line:
    """One sound line, recorded: whether it was loud, in steps of 5 ms of time.monotonic()."""

    def __init__(self, card: SoundCard, device: str) -> None:
        self._microphone = Microphone(card, device)
        self._peaks: list[tuple[float, NDArray[np.int16]]] = []
        self._microphone.open()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            block = self._microphone.blocks.get()
            peaks = np.abs(block.raw[: len(block.raw) // STEP * STEP].astype(np.int16)).reshape(-1, STEP).max(axis=1)
            self._peaks.append((block.captured_at, peaks))

    def loud(self) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """The moments, and whether it was loud then."""
        kept = list(self._peaks)
        moments = [start + STEP / RATE_HZ * np.arange(len(peaks)) for start, peaks in kept]
        return np.concatenate(moments), np.concatenate([peaks for _, peaks in kept]) > LOUD

    def first_after(self, moment: float) -> float:
        moments, loud = self.loud()
        found = moments[loud & (moments > moment)]
        return float(found[0]) if len(found) else float("nan")

    def last_before(self, moment: float) -> float:
        moments, loud = self.loud()
        found = moments[loud & (moments < moment)]
        return float(found[-1]) if len(found) else float("nan")


class Watched:
    """Memory and processor time of a process and its children, from /proc."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self.megabytes: list[float] = []
        self.cpu_s = 0.0

    def _all(self) -> list[int]:
        children = Path(f"/proc/{self._pid}/task").glob("*/children")
        return [self._pid, *(int(child) for file in children for child in file.read_text().split())]

    def look(self) -> None:
        """Note the megabytes resident of the process, and the seconds of processor time of all. Once it is over, what
        was noted stays."""
        status = Path(f"/proc/{self._pid}/status").read_text()
        resident = [int(row.split()[1]) for row in status.splitlines() if row.startswith("VmRSS")]
        if not resident:
            return
        ticks = 0
        for pid in self._all():
            fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
            ticks += int(fields[11]) + int(fields[12])
        self.megabytes.append(resident[0] / 1024)
        self.cpu_s = ticks / os.sysconf("SC_CLK_TCK")
