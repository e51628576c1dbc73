"""The plan: standard and vehicle make the ordered tests of one check, each made of steps.

Law: flow lives in the dialogue, limits live in the standard; here stands only what each test asks. A step needs facts
that the driver has confirmed (wheels chocked, engine off); each fact has one gate, the step that asks for it, and a
gate may need facts itself. The dialogue asks the gates of all missing facts before the step, so nothing that releases
a brake or moves the vehicle is ever asked before its preconditions are confirmed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from assistant.core.events import Record, TestId, Vehicle
from assistant.core.standard import Standard

Fact = Literal[
    "parked",  # parking brake set
    "chocked",
    "clear",  # nobody near, not in a closed space
    "engine-on",
    "engine-off",
    "released",  # parking brake released, trailer supply in: the whole system has air
    "charged",  # at cut-out pressure
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

    def missing(self, step: Step, facts: frozenset[Fact]) -> Step | None:
        """The gate to ask before `step`, None when all that it needs is confirmed."""
        for fact in step.needs:
            if fact not in facts:
                gate = self.gates[fact]
                return self.missing(gate, facts) or gate
        return None


def plan(standard: Standard, vehicle: Vehicle) -> Plan:
    """The tests of the standard for this vehicle; those that move it come after those that don't."""
    trailer = vehicle.vehicle_class in ("combination", "doubles", "triples")
    known = _tests(trailer)
    tests = [known[test] for test in standard.order(vehicle)]
    return Plan(tests=tuple(sorted(tests, key=lambda test: test.moves)), gates=_gates(trailer))


def _gate(fact: Fact, heard_as: Iterable[str], denied_by: Iterable[str], **more: object) -> tuple[Fact, Step]:
    answers = dict.fromkeys(heard_as, "ok")
    step = {"id": fact, "kind": "confirm", "prompt": f"ask.{fact}", "heard_as": answers, "makes": (fact,), **more}
    return fact, Step.model_validate({**step, "denied_by": tuple(denied_by)})


_ACTION = ("yes", "done", "continue")  # a state that others rely on takes a plain yes or the report, never these


def _gates(trailer: bool) -> dict[Fact, Step]:
    return dict(
        (
            _gate("parked", ("yes", "brakes-set"), ("no", "brakes-released"), ends=("released",)),
            _gate("chocked", ("yes", "chocks-in"), ("no", "chocks-out"), needs=("parked",), ends=("chocks-out",)),
            _gate("clear", ("yes",), ("no",)),
            _gate(
                "engine-on",
                (*_ACTION, "engine-running"),
                ("no", "engine-off"),
                needs=("parked", "chocked", "clear"),
                ends=("engine-off",),
                patience_s=30,
            ),
            _gate(
                "engine-off",
                (*_ACTION, "engine-off"),
                ("no", "engine-running"),
                needs=("chocked",),
                ends=("engine-on",),
                patience_s=30,
            ),
            _gate(
                "released",
                (*_ACTION, "brakes-released"),
                ("no", "brakes-set"),
                prompt="ask.released-trailer" if trailer else "ask.released",
                needs=("chocked", "clear"),
                ends=("parked", "charged"),
                patience_s=30,
            ),
            _gate("charged", (*_ACTION, "needle-stopped"), ("no",), needs=("engine-on", "released"), patience_s=120),
            _gate(
                "pedal",
                (*_ACTION, "pedal-down"),
                ("no",),
                needs=("chocked", "engine-off", "released"),
                patience_s=30,
            ),
            (
                "rebuilt",
                Step(
                    id="rebuilt",
                    kind="pressure",
                    prompt="ask.rebuilt",
                    slot="at least",
                    needs=("parked", "engine-on"),
                    makes=("rebuilt",),
                    each=True,
                    patience_s=180,
                ),
            ),
            _gate(
                "chocks-out",
                ("yes", "done", "chocks-out"),
                ("no", "chocks-in"),
                needs=("parked", "rebuilt"),
                ends=("chocked",),
                patience_s=60,
            ),
            _gate("way-clear", ("yes",), ("no",), needs=("chocks-out",)),
            _gate("trailer-set", ("yes", "done"), ("no",), needs=("rebuilt", "chocks-out", "way-clear")),
        )
    )


_STILL: tuple[Fact, ...] = ("chocked", "released", "engine-off")
_MOVING: tuple[Fact, ...] = ("rebuilt", "chocks-out", "way-clear")
_ON_OFF = {"yes": "on", "no": "off"}
_HELD = {"held": "held", "moved": "moved"}


def _leakage(test: TestId, *needs: Fact) -> Test:
    first = Step(id="first", kind="read", prompt="ask.leak-first", slot="first", needs=needs, each=True, patience_s=30)
    hold = Step(id="hold", kind="hold", prompt="ask.leak-hold", needs=needs, patience_s=None)
    last = Step(id="last", kind="read", prompt="ask.leak-last", slot="last", needs=needs, ends=("pedal",), each=True)
    return Test(id=test, steps=(first, hold, last))


def _at(test: TestId, *needs: Fact, heard_as: Mapping[str, str] | None = None, **more: object) -> Step:
    """One reading at an event; a report in the same breath answers "key=value"."""
    step = {"id": "at", "kind": "read", "prompt": f"ask.{test}", "slot": "at", "needs": needs, "patience_s": 60}
    return Step.model_validate({**step, "heard_as": dict(heard_as or {}), **more})


def _pop_out(test: TestId, report: str, *ends: Fact) -> Test:
    popped = {report: "popped=yes", "did-not-pop": "popped=no", "not-fitted": "popped=not fitted"}
    return Test(id=test, steps=(_at(test, *_STILL, heard_as=popped, ends=ends),))


def _felt(step: str, slot: str, heard_as: Mapping[str, str], *needs: Fact, ends: tuple[Fact, ...] = ()) -> Step:
    return Step(
        id=step,
        kind="ask",
        prompt=f"ask.{step}",
        slot=slot,
        heard_as=dict(heard_as),
        needs=needs,
        ends=ends,
        patience_s=None,
    )


def _build_up() -> Test:
    below = Step(
        id="below", kind="pressure", prompt="ask.build-up-below", slot="below", needs=("engine-on",), patience_s=30
    )
    start = Step(
        id="start",
        kind="mark",
        prompt="ask.build-up-start",
        slot="from",
        heard_as={"start": "ok"},
        needs=("engine-on",),
        patience_s=120,
    )
    mark = Step(id="mark", kind="mark", prompt="ask.build-up-mark", slot="to", heard_as={"mark": "ok"}, patience_s=120)
    return Test(id="build-up", steps=(below, start, mark))


def _warning() -> Test:
    devices = {"light-on": "light=on", "light-off": "light=off", "buzzer-on": "buzzer=on", "buzzer-off": "buzzer=off"}
    reading = _at("low-air-warning", *_STILL, heard_as=devices, ends=("charged",))
    light = Step(
        id="light",
        kind="ask",
        prompt="ask.light",
        slot="light",
        heard_as={**_ON_OFF, "light-on": "on", "light-off": "off"},
    )
    buzzer = Step(
        id="buzzer",
        kind="ask",
        prompt="ask.buzzer",
        slot="buzzer",
        heard_as={**_ON_OFF, "buzzer-on": "on", "buzzer-off": "off"},
    )
    return Test(id="low-air-warning", steps=(reading, light, buzzer))


def _tests(trailer: bool) -> Mapping[TestId, Test]:
    felt = {"felt": "yes", "yes": "yes", "not-felt": "no", "no": "no"}
    pull = {"straight": "straight", "pulls-left": "left", "pulls-right": "right"}
    parking_tug = "parking-tug-trailer" if trailer else "parking-tug"
    tests = (
        _build_up(),
        Test(id="governor-cut-out", steps=(_at("governor-cut-out", "engine-on"),)),
        Test(id="governor-cut-in", steps=(_at("governor-cut-in", "engine-on"),)),
        _leakage("static-leakage", "chocked", "charged", "released", "engine-off"),
        _leakage("applied-leakage", "chocked", "charged", "released", "engine-off", "pedal"),
        _warning(),
        _pop_out("trailer-supply-pop-out", "trailer-knob-popped"),
        _pop_out("parking-valve-pop-out", "parking-knob-popped", "released"),
        Test(id="parking-brake", steps=(_felt(parking_tug, "held", _HELD, *_MOVING, "parked"),), moves=True),
        Test(
            id="trailer-brake",
            steps=(_felt("trailer-tug", "held", _HELD, *_MOVING, "trailer-set", ends=("parked",)),),
            moves=True,
        ),
        Test(
            id="hand-valve",
            steps=(_felt("hand-valve", "felt", felt, *_MOVING, ends=("parked", "trailer-set")),),
            moves=True,
        ),
        Test(id="service-brake", steps=(_felt("service-brake", "pull", pull, *_MOVING, ends=("parked",)),), moves=True),
    )
    return {test.id: test for test in tests}
