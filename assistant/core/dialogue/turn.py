"""One turn: the state being changed and the effects being gathered while a single event is answered.

Law: local to one call of the reducer; nothing of it survives but the new state and the effects.
"""

from __future__ import annotations

from typing import Any

from assistant.core.dialogue.state import State
from assistant.core.events import Effect, Line, Observation, Reading, Say, TestId, Unit, Value, Vehicle
from assistant.core.plan import ENDING, Plan, Step, Test
from assistant.core.standard import Standard


class Turn:
    """`at_ms`: the time of the event in the check."""

    def __init__(self, standard: Standard, plan: Plan, state: State, at_ms: int) -> None:
        self.standard = standard
        self.plan = plan
        self.state = state
        self.at_ms = at_ms
        self._lines: list[Line] = []
        self._effects: list[Effect] = []

    def set(self, **changes: Any) -> None:
        self.state = self.state._replace(**changes)

    def say(self, prompt: str, **values: Value) -> None:
        self._lines.append(Line(prompt=prompt, values=values))

    def say_line(self, *lines: Line) -> None:
        self._lines.extend(lines)

    def effect(self, effect: Effect) -> None:
        self._effects.append(effect)

    def result(self) -> tuple[State, tuple[Effect, ...]]:
        """The new state, and the effects with everything to say last, as one turn of speech."""
        if self._lines:
            self.set(last_said=tuple(self._lines))
            self._effects.append(Say(lines=tuple(self._lines)))
        return self.state, tuple(self._effects)

    @property
    def vehicle(self) -> Vehicle:
        return self.state.setup.vehicle

    @property
    def unit(self) -> Unit:
        return self.state.setup.unit

    @property
    def test(self) -> Test:
        """The open test; when all have their verdict, the last one."""
        return self.plan.tests[min(self.state.test, len(self.plan.tests) - 1)]

    @property
    def step(self) -> Step:
        return ENDING if self.finished else self.plan.tests[self.state.test].steps[self.state.step]

    @property
    def question(self) -> Step:
        """What is open now: the gate of the first missing fact, else the step itself."""
        return self.plan.missing(self.step, self.state.facts) or self.step

    @property
    def finished(self) -> bool:
        """Every test of the plan has its verdict."""
        return self.plan.none_left(self.state.test)

    def observation(self, not_done: str | None = None) -> Observation:
        """What the open test has gathered; the length of a hold or rise comes from the spoken moments."""
        return Observation(
            test=self.test.id,
            readings=self.state.readings,
            seconds=_seconds(self.state),
            answers=self.state.answers,
            not_done=not_done,
            within=widths(self.state.readings),
        )

    def earlier(self) -> dict[TestId, Observation]:
        return self.state.observations


def widths(readings: dict[str, tuple[Reading, ...]]) -> dict[str, float]:
    """The widest range spoken in each slot."""
    widest = {slot: max((one.within or 0.0 for one in seen), default=0.0) for slot, seen in readings.items()}
    return {slot: width for slot, width in widest.items() if width}


def _seconds(state: State) -> float | None:
    """Seconds of a rise, between its two moments; or of a hold, from the last of the first readings to the next one."""
    if "from" in state.moments and "to" in state.moments:
        return (state.moments["to"] - state.moments["from"]) / 1000
    first, last = state.readings.get("first"), state.readings.get("last")
    if not first or not last:
        return None
    started = max(reading.at_ms or 0 for reading in first)
    ended = min(reading.at_ms or 0 for reading in last)
    return (ended - started) / 1000
