"""The sound of what was heard: each utterance a small FLAC file beside the log.

Law: what is kept is what the ears got, a little more on both sides, and the log has the SHA-256 of the file. A disk
that does not take it ends the keeping, never the check.
"""

from __future__ import annotations

import hashlib
import io
from collections import deque
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

Samples = NDArray[np.int16]

RATE_HZ = 16_000
KEPT_S = 40  # the recogniser ends an utterance after 20 s at the latest
MARGIN = RATE_HZ * 3 // 10


class Recent:
    """The last 40 s of sound, by the numbers of the samples."""

    def __init__(self) -> None:
        self._blocks: deque[tuple[int, Samples]] = deque()

    def add(self, first: int, samples: Samples) -> None:
        self._blocks.append((first, samples))
        while self._blocks[0][0] < first - KEPT_S * RATE_HZ:
            self._blocks.popleft()

    def between(self, first: int, end: int) -> Samples:
        """The samples from `first` up to `end`, as far as they are there; what was lost between them is left out."""
        parts = [block[max(0, first - at) : max(0, end - at)] for at, block in self._blocks if at < end]
        return np.concatenate([np.zeros(0, np.int16), *parts])


class SoundFolder:
    """Puts utterances into `folder`, made when the first one comes. `told`: gets the sentence when that fails."""

    def __init__(self, folder: Path, told: Callable[[str], None]) -> None:
        self._folder = folder
        self._told = told
        self._failed = False

    def keep(self, sound: Samples, at_ms: int) -> str | None:
        """The SHA-256 of the file that holds the sound, None when it could not be written. `at_ms`: names the file."""
        if self._failed:
            return None
        file = io.BytesIO()
        soundfile.write(file, sound, RATE_HZ, format="FLAC", subtype="PCM_16")
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            (self._folder / f"{max(0, at_ms):08d}.flac").write_bytes(file.getvalue())
        except OSError as error:
            self._failed = True
            self._told(
                f"The sound of what you say can't be kept in {self._folder} ({error.strerror or error}). The check and "
                "its log go on without it; free space on the disk to have it next time."
            )
            return None
        return hashlib.sha256(file.getvalue()).hexdigest()
