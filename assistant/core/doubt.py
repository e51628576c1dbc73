"""Whether to believe what was heard: a number that may be another one is asked again.

Law: only the evidence of the sound decides: rival paths, lost samples, the noise. The limit and the expected value play
no part, so no reading is believed because it passes. What was typed is never in doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from assistant.core.events import Heard
from assistant.core.numbers import are_twins
from assistant.core.sense import Sense

NEEDED_NATS: Final = 1.5
"""How far a rival with another meaning must be behind in quiet. Nats of the recogniser, lattice beam 6 or more."""
NEEDED_NATS_TWIN: Final = 4.5
"""The same for a rival that sounds nearly alike: fifty for fifteen, unchocked for chocked. Not for one that no gauge
reads: 119 is rarely meant as 190."""
QUIET_SNR_DB: Final = 20.0
NEEDED_NATS_PER_DB: Final = 0.3
"""What is needed more for each dB that the speech is less than QUIET_SNR_DB above the noise which the front end has
left, because noise widens wrong leads too.

Read off nine synthetic voices, 160 readings in each condition: believed in quiet 136, with diesel noise at 10 dB 115,
at 5 dB 61 and with a buzzer at 0 dB 134; of them wrong 1, 2, 0 and 2, most by one voice whose teens are heard as tens
however far the other is behind. A held-out voice's "eighteen" was heard as eighty, 3.8 nats ahead.
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


def needed(best: Sense, rival: Sense, snr_db: float | None) -> float:
    """How many nats a meaning needs to be ahead of this rival. `snr_db`: after the front end; None where it is not
    known."""
    noise = 0.0 if snr_db is None else NEEDED_NATS_PER_DB * max(0.0, QUIET_SNR_DB - snr_db)
    return (NEEDED_NATS_TWIN if _alike(best, rival) else NEEDED_NATS) + noise


def _alike(best: Sense, rival: Sense) -> bool:
    if best.on_the_scale and not rival.on_the_scale:
        return False
    pairs = zip(best.numbers, rival.numbers, strict=False)
    return best.alike or rival.alike or any(are_twins(one.value, other.value) for one, other in pairs)


def doubt(heard: Heard, best: Sense, rivals: Sequence[tuple[float, Sense]]) -> Doubt | None:
    """Why not to believe an utterance that was understood as `best`; None when it can be believed.

    `rivals`: the other meanings that it may have, with how far each is behind, in nats.
    """
    if heard.by == "typed":
        return None
    if heard.gap:
        return "gap"
    if heard.clipped > CLIPPED:
        return "too near"
    if heard.level_db is not None and heard.level_db < QUIET_DB:
        return "too quiet"
    if all(behind >= needed(best, rival, heard.treated_snr_db) for behind, rival in rivals):
        return None
    return "too loud" if heard.snr_db is not None and heard.snr_db < LOUD_SNR_DB else "doubtful"
