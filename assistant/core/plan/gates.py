"""The gates: for each fact the step that asks for it, and what it needs itself."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.core.plan.steps import Fact, Step


def _gate(fact: Fact, heard_as: Iterable[str], denied_by: Iterable[str], **more: object) -> tuple[Fact, Step]:
    answers = dict.fromkeys(heard_as, "ok")
    step = {"id": fact, "kind": "confirm", "prompt": f"ask.{fact}", "heard_as": answers, "makes": (fact,), **more}
    return fact, Step.model_validate({**step, "denied_by": tuple(denied_by)})


_ACTION = ("yes", "done", "continue")  # a state that others rely on takes a plain yes or the report, never these


_GATES = dict(
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
            needs=("chocked", "clear"),
            ends=("parked", "charged", "unloaded"),
            patience_s=30,
        ),
        _gate("unloaded", (*_ACTION, "needle-stopped"), ("no",), needs=("engine-on",), patience_s=120),
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
_RELEASED_WITH_TRAILER = _GATES["released"].model_copy(update={"prompt": "ask.released-trailer"})


def gates(trailer: bool) -> dict[Fact, Step]:
    """The gates of a vehicle with or without a trailer."""
    return {**_GATES, "released": _RELEASED_WITH_TRAILER} if trailer else dict(_GATES)
