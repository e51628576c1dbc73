"""Effects: what is to be done, and what was found."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from assistant.core.events.subjects import Line, Reading, Record, TestId, Verdict


class Say(Record):
    """Speak and show these sentences, in this order, as one turn."""

    kind: Literal["say"] = "say"
    lines: tuple[Line, ...]


class StartTimer(Record):
    """Send `Due(timer)` at `due_ms`. A timer's name holds test, step and attempt, so a stale one is recognised."""

    kind: Literal["timer"] = "timer"
    timer: str
    due_ms: int


class Take(Record):
    """A reading was accepted for the record. `replaces`: it corrects the one before."""

    kind: Literal["take"] = "take"
    test: TestId
    slot: str
    readings: tuple[Reading, ...]
    replaces: bool = False


class Judged(Record):
    kind: Literal["judged"] = "judged"
    verdict: Verdict


class Marked(Record):
    """What one element of a recital got: the words that it was given for, and when they began."""

    kind: Literal["marked"] = "marked"
    element: str
    state: Literal["said", "missed", "wrong", "denied"]
    words: str = ""
    at_ms: int | None = None


class Close(Record):
    """The check is over; the log can be sealed."""

    kind: Literal["close"] = "close"
    complete: bool


Effect = Annotated[Say | StartTimer | Take | Judged | Marked | Close, Field(discriminator="kind")]
