"""The flow of a recital: silent unless asked or where safety is at stake; at the end the marks and the debrief.

Law: as in the dialogue, (state, time, event) -> (state, effects), pure and total, so that a log can be recomputed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.core.events import (
    Begun,
    Close,
    Device,
    Due,
    Effect,
    Ended,
    Event,
    Heard,
    Judged,
    Line,
    Record,
    Resumed,
    Say,
    Setup,
    StartTimer,
    TestId,
    Verdict,
)
from assistant.review.recital.debrief import Hazard, debrief, element_line, spoken, unsafe_in
from assistant.review.recital.marking import mark
from assistant.review.recital.scheme import Scheme
from assistant.review.recital.tokens import words_of_text
from assistant.review.recital.wording import wordings

COACH_MS = 12_000  # of silence, before a coach helps; own figure


class State(Record):
    """`cautioned`: what the trainee was warned of, each once. `pauses` numbers the silence timers."""

    setup: Setup
    mode: Literal["listening", "closed"] = "listening"
    heard: tuple[Heard, ...] = ()
    cautioned: tuple[Hazard, ...] = ()
    pauses: int = 0
    verdicts: dict[TestId, Verdict] = {}
    points: int = 0
    total: int = 0
    hold: None = None


Step = tuple[State, tuple[Effect, ...]]


@dataclass(frozen=True)
class Recital:
    """What the flow knows that is not state."""

    scheme: Scheme

    def begin(self, event: Begun) -> Step:
        """The first state of a recital, and its opening words."""
        lines = (Line(prompt="recital.caution"), Line(prompt=f"recital.opening-{event.setup.recital}"))
        return State(setup=event.setup), (Say(lines=lines),)

    def reduce(self, state: State, at_ms: int, event: Event) -> Step:
        """Answer one event at `at_ms`. After the debrief nothing changes any more."""
        if state.mode == "closed":
            return state, ()
        match event:
            case Heard():
                return self._heard(state, at_ms, event)
            case Due(timer=timer) if timer == _pause(state):
                return state, self._help(state)
            case Ended():
                return self._close(state)
            case Device():
                return state, (Say(lines=(Line(prompt=f"device.{event.device}-{event.state}"),)),)
            case Resumed():
                return state, (Say(lines=(Line(prompt="recital.resumed"),)),)
        return state, ()

    def finished(self, state: State) -> bool:
        """It came to its debrief."""
        return state.mode == "closed"

    def _heard(self, state: State, at_ms: int, heard: Heard) -> Step:
        asked = _asked(heard)
        if asked == "done":
            return self._close(state)
        if asked:
            return state, () if state.setup.recital == "strict" else self._help(state)
        changes = {"heard": (*state.heard, heard), "pauses": state.pauses + 1}
        state = state.model_copy(update=changes)
        fresh = [fact for fact in unsafe_in(self.scheme, mark(self.scheme, state.heard)) if fact not in state.cautioned]
        state = state.model_copy(update={"cautioned": (*state.cautioned, *fresh)})
        effects: list[Effect] = [Say(lines=tuple(Line(prompt=f"caution.{fact}") for fact in fresh))] if fresh else []
        if state.setup.recital == "coach":
            effects.append(StartTimer(timer=_pause(state), due_ms=at_ms + COACH_MS))
        return state, tuple(effects)

    def _help(self, state: State) -> tuple[Effect, ...]:
        """The first element after the last one that was said."""
        marks = mark(self.scheme, state.heard).marks
        last = max((at for at, one in enumerate(marks) if one.state == "said"), default=-1)
        left = [one for one in (*marks[last + 1 :], *marks[:last]) if one.state != "said"]
        if not left:
            return (Say(lines=(Line(prompt="recital.all-said"),)),)
        return (Say(lines=(Line(prompt="recital.next"), element_line(self.scheme, left[0].element))),)

    def _close(self, state: State) -> Step:
        told = debrief(self.scheme, mark(self.scheme, state.heard))
        update = {"mode": "closed", "verdicts": told.verdicts, "points": told.points, "total": told.total}
        effects: tuple[Effect, ...] = (
            *(Judged(verdict=verdict) for verdict in told.verdicts.values()),
            *told.marks,
            Say(lines=spoken(self.scheme, told)),
            Close(complete=True),
        )
        return state.model_copy(update=update), effects


def _pause(state: State) -> str:
    return f"pause/{state.pauses}"


def _asked(heard: Heard) -> str | None:
    """Which request is the whole of the utterance."""
    text = " ".join(word for word in words_of_text(heard.open_text or heard.text) if word.isalpha())
    return next((what for what, phrases in wordings().asked.items() if text in phrases), None)
