"""What is said by whoever works the simulated vehicle: the driver of a check, or the trainee of a recital."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.vehicle.handling import Seen


@dataclass(frozen=True)
class Spoken:
    """One utterance. `reads`: it gives readings. `meant`: the last readings that the speaker wanted to give."""

    text: str
    meant: Seen
    reads: bool
