"""What a decoder takes and gives: the sound of an utterance, and the ways to read it.

Law: places in the sound are counted in samples of 16 kHz.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]

RATE_HZ = 16_000


@dataclass(frozen=True)
class Spoken:
    """A word and the samples it was spoken at, counted from the beginning of what the decoder was fed. `unlike`: see
    Word."""

    text: str
    start: int
    end: int
    unlike: float | None = None


@dataclass(frozen=True)
class Path:
    """One way to read the sound. `score`: its log likelihood, higher is better, comparable within an utterance only."""

    text: str
    words: tuple[Spoken, ...]
    score: float


@dataclass(frozen=True)
class Utterance:
    """`paths`: best first, with the samples of their words counted from `start`. `sound`: what was decoded.
    `loud`: how many of its samples stood out of the noise. `given`: how many of its first samples are those of the
    utterance before, which it may go on with."""

    start: int
    paths: tuple[Path, ...]
    sound: Samples
    loud: int
    given: int = 0


class Decoder(Protocol):
    """A speech decoder for one utterance."""

    def accept(self, sound: Samples) -> bool:
        """Take the next samples; True: the decoder itself takes the utterance as ended."""

    def partial(self) -> str:
        """The text so far."""

    def final(self) -> tuple[Path, ...]:
        """All that was fed, decoded; the decoder can't be used afterwards. Empty: nothing was said."""
