"""What each test asks, step by step, and the question that stands at the end of every check."""

from __future__ import annotations

from collections.abc import Mapping

from assistant.core.events import TestId
from assistant.core.plan.steps import Fact, Step, Test

ENDING = Step(
    id="ending",
    kind="confirm",
    prompt="ask.ending",
    heard_as={"yes": "ok", "done": "ok", "continue": "ok"},
    denied_by=("no",),
    patience_s=10,
)
"""Asked when every test has its verdict, so that the last answers can be corrected too; silence accepts them."""

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


def tests(trailer: bool) -> Mapping[TestId, Test]:
    felt = {"felt": "yes", "yes": "yes", "not-felt": "no", "no": "no"}
    pull = {"straight": "straight", "pulls-left": "left", "pulls-right": "right"}
    parking_tug = "parking-tug-trailer" if trailer else "parking-tug"
    known = (
        _build_up(),
        Test(id="governor-cut-out", steps=(_at("governor-cut-out", "engine-on", makes=("unloaded",)),)),
        Test(id="governor-cut-in", steps=(_at("governor-cut-in", "engine-on", "unloaded", ends=("unloaded",)),)),
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
    return {test.id: test for test in known}
