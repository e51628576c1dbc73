"""How often a driver does what is not just answering.

Assumption: how often people slip, ask back or pause; common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Habits:
    """How often, per question, a driver does what is not just answering; 0 for all: a driver without a fault."""

    slips: float = 0.06
    asks: float = 0.05
    pauses: float = 0.03
    goes_back: float = 0.02
    starts_over: float = 0.01
    skips: float = 0.004
    chats: float = 0.04
    breaks_in: float = 0.05
    most_detours: int = 6


USUAL = Habits()
BY_THE_BOOK = Habits(0, 0, 0, 0, 0, 0, 0, 0)
