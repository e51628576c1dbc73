"""What the dialogue remembers between two events. Everything else is computed from it.

It stands in no log, so it is a plain tuple: nothing has to be validated, and a turn changes it many times.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from assistant.core.events import Line, Observation, Reading, Setup, TestId, Verdict
from assistant.core.plan import Fact

Mode = Literal["asking", "standing by", "stopped", "skipping", "closed"]


class Hold(NamedTuple):
    """A running timed hold: from the last of the first readings until `due_ms`."""

    attempt: int
    from_ms: int
    due_ms: int


class Taken(NamedTuple):
    """The latest reading that was accepted: where a correction goes."""

    test: TestId
    slot: str


class State(NamedTuple):
    """`test`, `step`: the place in the plan. `facts`: what the driver has confirmed and what still holds.
    `readings`, `answers`, `moments`: what the open test has so far. `asked` numbers the questions and `tries` counts
    the misses on the open one; both name the silence timers. `odd`: a reading that was asked again as improbable.
    `lost`: devices that failed and have not come back."""

    setup: Setup
    mode: Mode = "asking"
    test: int = 0
    step: int = 0
    facts: frozenset[Fact] = frozenset()
    readings: dict[str, tuple[Reading, ...]] = {}
    answers: dict[str, str] = {}
    moments: dict[str, int] = {}
    asked: int = 0
    tries: int = 0
    holds: int = 0
    hold: Hold | None = None
    taken: Taken | None = None
    odd: tuple[Reading, ...] = ()
    lost: frozenset[str] = frozenset()
    last_said: tuple[Line, ...] = ()
    observations: dict[TestId, Observation] = {}
    verdicts: dict[TestId, Verdict] = {}
