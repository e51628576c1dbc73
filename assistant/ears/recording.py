"""A sound file as the microphone: 16 kHz mono in blocks of 50 ms.

Law: the file is read as a stream, however long it is, and refused with a reason before the first block if it can't
give what the recogniser needs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from assistant.core.trouble import BadInput

RATE_HZ = 16_000
BLOCK = 800  # 50 ms
_READ_S = 1
# What libsndfile reports of a WAV file that is shorter than its header says. Programs that write to a pipe put a size
# near 2 or 4 GiB there, because they don't know it yet; that is no damage.
_TORN = re.compile(r"^data *: (\d+) \(should be (\d+)\)", re.MULTILINE)
_SIZE_UNKNOWN = 0x7FFF_0000


class Recording:
    """A sound file (wav, flac, ogg and what else libsndfile reads), at least 16 kHz, one or more channels (their mean).

    Raises BadInput when the file can't be opened, holds no sound or has too low a rate; reading on may raise it, too,
    for a file that is damaged further in.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        if path.is_dir():
            raise BadInput(f"{path} is a folder; a sound file is needed.")
        if not path.exists():
            raise BadInput(f"There is no file {path}.")
        try:
            with path.open("rb"):
                self._info = soundfile.info(str(path), verbose=True)
        except OSError as fault:
            raise BadInput(f"{path} can't be read ({fault.strerror or fault}).") from fault
        except soundfile.SoundFileError as fault:
            raise BadInput(f"{path} is not a sound file that can be read; WAV, FLAC or Ogg is needed.") from fault
        if self._info.frames == 0:
            raise BadInput(f"{path} holds no sound at all.")
        if self._info.samplerate < RATE_HZ:
            raise BadInput(
                f"{path} has a sample rate of {self._info.samplerate} Hz. At least {RATE_HZ} Hz is needed: what tells"
                " many words apart lies above 4 kHz and is lost in such a file. Record again at 16 kHz or more;"
                " converting this file does not bring it back."
            )

    @property
    def seconds(self) -> float:
        return float(self._info.duration)

    def blocks(self) -> Iterator[NDArray[np.int16]]:
        """All of it from the beginning, 800 samples at a time, fewer in the last block."""
        left = np.zeros(0, np.int16)
        for sound in self._resampled():
            left = np.concatenate([left, sound])
            while len(left) >= BLOCK:
                yield left[:BLOCK]
                left = left[BLOCK:]
        if len(left):
            yield left

    def _resampled(self) -> Iterator[NDArray[np.int16]]:
        rate = self._info.samplerate
        resampler = soxr.ResampleStream(rate, RATE_HZ, 1, dtype="float32") if rate != RATE_HZ else None
        for sound in self._mono():
            yield _to_int16(resampler.resample_chunk(sound) if resampler else sound)
        if resampler:
            yield _to_int16(resampler.resample_chunk(np.zeros(0, np.float32), last=True))

    def _mono(self) -> Iterator[NDArray[np.float32]]:
        try:
            with soundfile.SoundFile(str(self.path)) as file:
                for sound in file.blocks(_READ_S * file.samplerate, dtype="float32", always_2d=True):
                    yield np.nan_to_num(sound.mean(axis=1))
        except (soundfile.SoundFileError, OSError) as fault:
            raise BadInput(f"{self.path} is damaged: it can't be read to its end ({fault}).") from fault
        torn = _TORN.search(self._info.extra_info)
        if torn and int(torn[2]) < int(torn[1]) < _SIZE_UNKNOWN:
            raise BadInput(
                f"{self.path} is cut off: {torn[2]} of {torn[1]} bytes of sound are there, so what was said last may be"
                " a part of something else. Copy or record it again."
            )


def _to_int16(sound: NDArray[np.float32]) -> NDArray[np.int16]:
    return np.clip(np.round(sound * 32768), -32768, 32767).astype(np.int16)
