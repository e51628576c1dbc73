"""What a plan is made of: facts, steps, tests."""

from __future__ import annotations

from typing import Literal

from assistant.core.events import Record, TestId

Fact = Literal[
    "parked",  # parking brake set
    "chocked",
    "clear",  # nobody near, not in a closed space
    "engine-on",
    "engine-off",
    "released",  # parking brake released, trailer supply in: the whole system has air
    "unloaded",  # the governor has cut out, and no air was used since
    "charged",  # at cut-out pressure, with the whole system filled
    "pedal",  # service brake held down
    "rebuilt",  # every needle at the pressure that is needed before moving
    "chocks-out",
    "way-clear",
    "trailer-set",  # trailer supply knob out: trailer brakes set
]
StepKind = Literal["confirm", "pressure", "mark", "read", "hold", "ask"]


class Step(Record):
    """One thing asked.

    `slot`: where the answer goes (reading slot, answer key, or the bound of a pressure gate). `heard_as`: report id,
    "yes", "no" or "continue" -> what it means here ("ok" for a confirmation). `denied_by`: what keeps a gate shut.
    `each`: every needle of the gauge is wanted. `patience_s`: seconds of silence before it is asked again; None: the
    vehicle may be moving or a hold is running, so nothing is asked.
    """

    id: str
    kind: StepKind
    prompt: str
    slot: str = ""
    heard_as: dict[str, str] = {}
    denied_by: tuple[str, ...] = ()
    needs: tuple[Fact, ...] = ()
    makes: tuple[Fact, ...] = ()
    ends: tuple[Fact, ...] = ()
    each: bool = False
    patience_s: int | None = 15


class Test(Record):
    """One item of the check. `moves`: the wheels get power or the vehicle rolls."""

    __test__ = False  # not a test case for the test runner

    id: TestId
    steps: tuple[Step, ...]
    moves: bool = False


class Plan(Record):
    tests: tuple[Test, ...]
    gates: dict[Fact, Step]

    def none_left(self, place: int) -> bool:
        """Whether every test stands before this place."""
        return place >= len(self.tests)

    def missing(self, step: Step, facts: frozenset[Fact]) -> Step | None:
        """The gate to ask before `step`, None when all that it needs is confirmed."""
        for fact in step.needs:
            if fact not in facts:
                gate = self.gates[fact]
                return self.missing(gate, facts) or gate
        return None
