"""Whether to believe what was heard: a number that may be another one is asked again.

Law: only the evidence of the sound decides: rival paths, lost samples, the noise. The limit and the expected value play
no part, so no reading is believed because it passes. What was typed is never in doubt.
"""

from __future__ import annotations

from typing import Final, Literal

from assistant.core.events import Heard

NEEDED_NATS: Final = 2.0
"""How far the nearest rival with another meaning must be behind. Nats of the recogniser, lattice beam 6 or more."""
NEEDED_NATS_ALIKE: Final = 5.5
"""The same, where the meaning hangs on words with a near-twin (fifteen or fifty, chocked or unchocked).

Both were read off synthetic voices, clean and with diesel noise at 10 and 5 dB (660 utterances): 87, 73 and 57 of 100
believed, 0, 1 and 2 of 220 of them wrong.
"""
LOUD_SNR_DB: Final = 5.0
"""Below this ratio of speech to noise, a doubt is blamed on the noise."""
CLIPPED: Final = 0.1
"""Above this share of frames cut off at full scale, words are distorted. Common practice, no source."""
QUIET_DB: Final = -60.0
"""Speech below this level of full scale is in the noise of the microphone itself. Common practice, no source."""
HARMLESS: Final = frozenset({"stop", "stand-by", "help", "repeat"})
"""Commands that are obeyed on any evidence: doing it needlessly costs a sentence, asking again may cost more."""

Doubt = Literal["gap", "too near", "too quiet", "too loud", "doubtful"]
"""Each asks for something else to be done. "too near": the microphone; "too loud": the noise."""


def needed(alike: bool) -> float:
    """The distance in nats that a meaning needs from its nearest rival."""
    return NEEDED_NATS_ALIKE if alike else NEEDED_NATS


def doubt(heard: Heard, alike: bool, rival_behind: float | None) -> Doubt | None:
    """Why not to believe an utterance that was understood; None when it can be believed.

    `rival_behind`: how far the nearest rival with another meaning is behind, in nats; None when there is none.
    """
    if heard.by == "typed":
        return None
    if heard.gap:
        return "gap"
    if heard.clipped > CLIPPED:
        return "too near"
    if heard.level_db is not None and heard.level_db < QUIET_DB:
        return "too quiet"
    if rival_behind is None or rival_behind >= needed(alike):
        return None
    return "too loud" if heard.snr_db is not None and heard.snr_db < LOUD_SNR_DB else "doubtful"
