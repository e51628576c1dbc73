"""The plan: every step's preconditions can be reached, and nothing unsafe is asked before them."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant import standards
from assistant.core.events import Vehicle, VehicleClass
from assistant.core.plan import Fact, plan

STANDARDS = [standard.id for standard in standards.all_standards()]
RELEASING = {"ask.released", "ask.released-trailer", "ask.trailer-tug", "ask.hand-valve", "ask.service-brake"}
MOVING = {"ask.parking-tug", "ask.parking-tug-trailer", "ask.trailer-tug", "ask.hand-valve", "ask.service-brake"}


@pytest.mark.parametrize("vehicle", get_args(VehicleClass))
@pytest.mark.parametrize("standard", STANDARDS)
def test_tests_that_move_the_vehicle_come_last(standard, vehicle) -> None:
    tests = plan(standards.load(standard), Vehicle(vehicle_class=vehicle)).tests
    moves = [test.moves for test in tests]
    assert moves == sorted(moves)


@given(facts=st.frozensets(st.sampled_from(get_args(Fact))), data=st.data())
def test_confirming_one_gate_after_the_other_reaches_every_step(facts, data) -> None:
    made = plan(standards.load("common-practice"), Vehicle())
    step = data.draw(st.sampled_from([step for test in made.tests for step in test.steps]))
    for _ in range(20):
        gate = made.missing(step, facts)
        if gate is None:
            return
        facts = (facts - frozenset(gate.ends)) | frozenset(gate.makes)
    pytest.fail(f"{step.id} is never reached")


def _all_steps():
    for vehicle in get_args(VehicleClass):
        made = plan(standards.load("common-practice"), Vehicle(vehicle_class=vehicle))
        yield from ((made, step) for test in made.tests for step in test.steps)
        yield from ((made, gate) for gate in made.gates.values())


def test_brakes_are_released_only_after_chocks_or_a_clear_way_and_pressure() -> None:
    for _, step in _all_steps():
        if step.prompt in RELEASING - MOVING:
            assert {"chocked", "clear"} <= set(step.needs)
        if step.prompt in MOVING:
            assert {"rebuilt", "chocks-out", "way-clear"} <= set(step.needs)


def test_the_engine_starts_only_with_parking_brake_and_chocks_and_everybody_clear() -> None:
    for made, _ in _all_steps():
        assert {"parked", "chocked", "clear"} <= set(made.gates["engine-on"].needs)


def test_chocks_leave_only_with_the_parking_brake_set_and_the_pressure_rebuilt() -> None:
    for made, _ in _all_steps():
        assert {"parked", "rebuilt"} <= set(made.gates["chocks-out"].needs)
