"""The high frequencies of a sound raised: they tell the words apart, and the rumble of an engine has few of them.

Law: each sample less a share of the one before it, as usual in speech recognition; nothing else is changed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SHARE = 0.95


class Emphasis:
    """Feed it the sound in order, in blocks of any size; full scale of the samples becomes 1."""

    def __init__(self, share: float = SHARE) -> None:
        self._share, self._before = share, 0.0

    def __call__(self, sound: NDArray[np.int16]) -> NDArray[np.float64]:
        """The next samples; with a share of 0 they are only scaled."""
        wide = sound.astype(np.float64) / 32768
        raised = wide - self._share * np.concatenate([[self._before], wide[:-1]])[: len(wide)]
        if len(wide):
            self._before = float(wide[-1])
        return raised
