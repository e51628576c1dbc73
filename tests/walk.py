"""A driver for tests: speaks typed phrases into the real reducer, on a clock that only this driver moves."""

from __future__ import annotations

from functools import cache

from assistant import assets, standards
from assistant.core.dialogue import Dialogue, State
from assistant.core.events import (
    Begun,
    Due,
    Effect,
    Event,
    Heard,
    Judged,
    Said,
    Say,
    Setup,
    StartTimer,
    Take,
    Vehicle,
    VehicleClass,
    Verdict,
)
from assistant.core.language import Language
from assistant.core.plan import ENDING, plan
from assistant.ears import grammar

SECURED = ("brakes are set", "wheels are chocked", "yes", "engine running")
BUILT_UP = (*SECURED, "eighty two", "start", "+35", "mark")
GOVERNED = (*BUILT_UP, "one twenty five", "one oh two")
READY_FOR_LEAKAGE = (*GOVERNED, "brakes released", "done", "engine off")
HOLDING = (*READY_FOR_LEAKAGE, "primary one twenty two secondary one twenty one")
STATIC_DONE = (*HOLDING, "+60", "primary one twenty one secondary one twenty")
APPLIED_HOLDING = (*STATIC_DONE, "pedal down", "primary one twelve secondary one ten")
APPLIED_DONE = (*APPLIED_HOLDING, "+60", "primary one ten secondary one oh nine")
POPPED = (
    *APPLIED_DONE,
    "sixty two light and buzzer on",
    "trailer knob popped at thirty eight",
    "parking knob popped at thirty two",
)
REBUILT = (*POPPED, "brakes are set", "engine running", "primary one eighteen secondary one oh five")
ROLLING = (*REBUILT, "chocks are out", "yes", "it held", "done", "it held", "yes")
JUDGED = (*ROLLING, "straight")
WHOLE = (*JUDGED, "continue")


@cache
def language() -> Language:
    return grammar.read(assets.grammars())


def dialogue(setup: Setup) -> Dialogue:
    standard = standards.load(setup.standard)
    return Dialogue(standard=standard, plan=plan(standard, setup.vehicle), language=language())


class Walk:
    """One check. A phrase "+60" lets 60 seconds pass, with the timers that come due."""

    def __init__(
        self,
        *phrases: str,
        vehicle: VehicleClass = "combination",
        needles: int = 2,
        standard: str = "common-practice",
        absent: tuple[str, ...] = (),
    ) -> None:
        self.setup = Setup(standard=standard, vehicle=Vehicle(vehicle_class=vehicle, needles=needles, absent=absent))
        self.dialogue = dialogue(self.setup)
        self.events: list[tuple[int, Event, tuple[Effect, ...]]] = []
        self.now = 0
        self.timers: dict[str, int] = {}
        begun = Begun(setup=self.setup)
        self.state, effects = self.dialogue.begin(begun)
        self._keep(begun, effects)
        self.say(*phrases)

    def say(self, *phrases: str) -> Walk:
        for phrase in phrases:
            if phrase.startswith("+"):
                self.wait(float(phrase[1:]))
            else:
                self.wait(2)
                self.feed(Heard(text=phrase, start_ms=self.now, end_ms=self.now, by="typed"))
        return self

    def wait(self, seconds: float) -> None:
        until = self.now + round(seconds * 1000)
        while due := [(at, name) for name, at in self.timers.items() if at <= until]:
            self.now, name = min(due)
            del self.timers[name]
            self.feed(Due(timer=name))
        self.now = until

    def feed(self, event: Event) -> None:
        """One event at the present moment; what is said in answer counts as spoken at once."""
        self.state, effects = self.dialogue.reduce(self.state, self.now, event)
        self._keep(event, effects)

    def _keep(self, event: Event, effects: tuple[Effect, ...]) -> None:
        self.events.append((self.now, event, effects))
        self.timers |= {effect.timer: effect.due_ms for effect in effects if isinstance(effect, StartTimer)}
        for effect in effects:
            if isinstance(effect, Say):
                self.feed(Said(text="spoken"))

    @property
    def said(self) -> tuple[str, ...]:
        """The prompt ids of the last turn of speech."""
        turns = [effect for _, _, effects in self.events for effect in effects if isinstance(effect, Say)]
        return tuple(line.prompt for line in turns[-1].lines)

    @property
    def turns(self) -> int:
        return sum(isinstance(effect, Say) for _, _, effects in self.events for effect in effects)

    @property
    def taken(self) -> list[Take]:
        return [effect for _, _, effects in self.events for effect in effects if isinstance(effect, Take)]

    @property
    def judged(self) -> list[Verdict]:
        return [effect.verdict for _, _, effects in self.events for effect in effects if isinstance(effect, Judged)]

    @property
    def outcomes(self) -> dict[str, str]:
        return {test: verdict.outcome for test, verdict in self.state.verdicts.items()}

    @property
    def open_test(self) -> str:
        return self.dialogue.plan.tests[self.state.test].id

    @property
    def asked(self) -> str:
        """The prompt of the open question."""
        if self.dialogue.finished(self.state):
            return ENDING.prompt
        step = self.dialogue.plan.tests[self.state.test].steps[self.state.step]
        return (self.dialogue.plan.missing(step, self.state.facts) or step).prompt


__all__ = ["State", "Walk"]
