"""The plan: standard and vehicle make the ordered tests of one check, each made of steps.

Law: flow lives in the dialogue, limits live in the standard; here stands only what each test asks. A step needs facts
that the driver has confirmed (wheels chocked, engine off); each fact has one gate, the step that asks for it, and a
gate may need facts itself. The dialogue asks the gates of all missing facts before the step, so nothing that releases
a brake or moves the vehicle is ever asked before its preconditions are confirmed.
"""

from __future__ import annotations

from assistant.core.events import Vehicle
from assistant.core.plan.gates import gates
from assistant.core.plan.steps import Fact, Plan, Step, StepKind, Test
from assistant.core.plan.tests import ENDING, tests
from assistant.core.standard import Standard

__all__ = ["ENDING", "Fact", "Plan", "Step", "StepKind", "Test", "plan"]


def plan(standard: Standard, vehicle: Vehicle) -> Plan:
    """The tests of the standard for this vehicle; those that move it come after those that don't."""
    trailer = vehicle.vehicle_class in ("combination", "doubles", "triples")
    known = tests(trailer)
    ordered = [known[test] for test in standard.order(vehicle)]
    return Plan(tests=tuple(sorted(ordered, key=lambda test: test.moves)), gates=gates(trailer))
