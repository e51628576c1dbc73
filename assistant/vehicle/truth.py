"""What is true of a vehicle: the noise-free outcome of each test, done by the book on another vehicle just like it.

Law: truth is an observation like any other, in the words of the plan, so the one evaluator judges it too; it comes from
working the vehicle's controls, never from looking up its faults.
A truth is exact for this way of doing the test: another rate of pumping, another filling pressure or another engine
speed moves it a little.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Literal

from assistant.core.events import Observation, TestId
from assistant.vehicle.trial import LIFT, Trial
from assistant.vehicle.vehicle import Vehicle

START_PSI = 80.0
SETTLING = 15.0
"""Seconds after which the needles stand still when nothing leaks. With the thermal state on they still creep."""
MINUTE = 60.0
RISING = 600.0
"""Seconds after which a build-up is given up."""
PUMPED_OUT = 60.0
"""psi at which pumping for the cut-in ends when the compressor has not started."""
TUG = 3.0
"""Seconds of gentle pull against a brake."""
STOPPING = 10.0
"""Seconds within which a brake that works stops the vehicle from walking pace."""


@dataclass(frozen=True, slots=True)
class Manner:
    """How the tests are done. `rise`: the two pressures of the build-up, psi. `rpm`: engine speed while filling, None =
    the vehicle's operating speed. `seen_on`: true pressures, or what the needles show with lag and stiction. `lift`:
    seconds between two applications of the pedal."""

    rise: tuple[float, float] = (85.0, 100.0)
    rpm: float | None = None
    seen_on: Literal["tanks", "needles"] = "tanks"
    lift: float = LIFT


BY_THE_BOOK = Manner()
_FILLED = "the vehicle can't be filled"


def truth(vehicle: Vehicle, test: TestId, manner: Manner = BY_THE_BOOK) -> Observation:
    """What this test finds on this vehicle when it is done from the start; the vehicle given is not touched.

    `not_done` says why when it can't be done: no such part, or no air.
    """
    return truths(vehicle, (test,), manner)[test]


def truths(vehicle: Vehicle, tests: Iterable[TestId], manner: Manner = BY_THE_BOOK) -> dict[TestId, Observation]:
    """The same for several tests. Those that begin with a full, released vehicle all get the same one, filled once."""
    full, ready = _begin(vehicle, manner, START_PSI), None
    found: dict[TestId, Observation] = {}
    for test in tests:
        needed = _NEEDS.get(test)
        if needed and needed not in vehicle.controls:
            found[test] = Observation(test=test, not_done=f"the vehicle has no {needed}")
        elif test == "build-up":
            found[test] = _build_up(_begin(vehicle, manner, min(START_PSI, manner.rise[0] - 5.0)), manner.rise)
        elif test in _FROM_START:
            found[test] = _FROM_START[test](_begin(vehicle, manner, START_PSI))
        else:
            ready = full.fill_released() if ready is None else ready
            found[test] = _RELEASED[test](full.again()) if ready else Observation(test=test, not_done=_FILLED)
    return found


def _begin(vehicle: Vehicle, manner: Manner, start_psi: float) -> Trial:
    another = vehicle.another(start_psi)
    rpm = manner.rpm or another.spec.engine.operating_rpm
    return Trial(another, rpm, needles=manner.seen_on == "needles", lift=manner.lift)


def _seen(test: TestId, trial: Trial, seconds: float | None = None, **answers: str) -> Observation:
    return Observation(test=test, readings=trial.readings, answers=answers, seconds=seconds)


def _build_up(trial: Trial, rise: tuple[float, float]) -> Observation:
    """Timed on the lower needle, brakes set and trailer closed off."""
    trial.start()
    marks = []
    for slot, psi in zip(("from", "to"), rise, strict=True):
        if not trial.wait(partial(trial.stands_at, psi), RISING):
            return Observation(test="build-up", not_done=f"the pressure does not rise to {psi:g} psi")
        trial.note(slot)
        marks.append(trial.vehicle.now_s)
    return _seen("build-up", trial, seconds=round(marks[1] - marks[0], 3))


def _cut_out(trial: Trial) -> Observation:
    if not trial.fill():
        return Observation(test="governor-cut-out", not_done=_FILLED)
    trial.vehicle.step(2.0)
    trial.note("at")
    return _seen("governor-cut-out", trial)


def _cut_in(trial: Trial) -> Observation:
    """Gentle applications until the compressor works or clearly never will; then wait for the needle to turn."""
    vehicle = trial.vehicle
    if not trial.fill():
        return Observation(test="governor-cut-in", not_done=_FILLED)
    trial.fan(lambda: vehicle.air.loaded or trial.lowest() < PUMPED_OUT, travel=0.25)
    before = float("inf")
    while trial.lowest() < before:
        before = trial.lowest()
        vehicle.step(0.1)
    trial.note("at")
    return _seen("governor-cut-in", trial)


def _leakage(test: TestId, pedal: float) -> Callable[[Trial], Observation]:
    def run(trial: Trial) -> Observation:
        trial.put(engine="off", pedal=pedal)
        trial.vehicle.step(SETTLING)
        trial.note("first")
        trial.vehicle.step(MINUTE)
        trial.note("last")
        return _seen(test, trial, seconds=MINUTE)

    return run


def _warning(trial: Trial) -> Observation:
    trial.put(engine="off")
    vehicle = trial.vehicle
    trial.fan(lambda: vehicle.signals().light or vehicle.signals().buzzer)
    trial.note("at")
    devices = vehicle.signals()
    return _seen("low-air-warning", trial, light=_on(devices.light), buzzer=_on(devices.buzzer))


def _pop_out(test: TestId, knob: Literal["parking_knob", "trailer_knob"]) -> Callable[[Trial], Observation]:
    def run(trial: Trial) -> Observation:
        trial.put(engine="off")
        popped = trial.fan(lambda: getattr(trial.vehicle.signals(), knob) == "out")
        trial.note("at", higher_only=True)
        return _seen(test, trial, popped="yes" if popped else "no")

    return run


def _tug(test: TestId, parking: str, trailer: str) -> Callable[[Trial], Observation]:
    def run(trial: Trial) -> Observation:
        trial.put(parking_knob=parking)
        trial.put(trailer_knob=trailer, chocks="out")  # the trailer knob last: the parking knob takes it along
        trial.vehicle.step(SETTLING)
        trial.put(gear="low")
        trial.vehicle.step(TUG)
        return _seen(test, trial, held="moved" if trial.vehicle.signals().moving else "held")

    return run


def _roll(trial: Trial) -> None:
    """Bring the vehicle to walking pace in low gear."""
    trial.put(chocks="out", gear="low")
    trial.vehicle.step(TUG)


def _hand_valve(trial: Trial) -> Observation:
    _roll(trial)
    trial.put(hand_valve=1.0)
    stopped = trial.wait(lambda: not trial.vehicle.signals().moving, STOPPING)
    return _seen("hand-valve", trial, felt="yes" if stopped else "no")


def _service_brake(trial: Trial) -> Observation:
    _roll(trial)
    trial.put(gear="neutral", pedal=0.3)
    trial.wait(lambda: trial.vehicle.signals().pull is not None, 0.5)  # a heavy one is slow and stops at once
    return _seen("service-brake", trial, pull=trial.vehicle.signals().pull or "straight")


def _on(device: bool) -> str:
    return "on" if device else "off"


_NEEDS: dict[TestId, str] = {
    "trailer-supply-pop-out": "trailer knob",
    "trailer-brake": "hand valve",
    "hand-valve": "hand valve",
}
_FROM_START: dict[TestId, Callable[[Trial], Observation]] = {
    "governor-cut-out": _cut_out,
    "governor-cut-in": _cut_in,
}
_RELEASED: dict[TestId, Callable[[Trial], Observation]] = {
    "static-leakage": _leakage("static-leakage", pedal=0.0),
    "applied-leakage": _leakage("applied-leakage", pedal=1.0),
    "low-air-warning": _warning,
    "trailer-supply-pop-out": _pop_out("trailer-supply-pop-out", "trailer_knob"),
    "parking-valve-pop-out": _pop_out("parking-valve-pop-out", "parking_knob"),
    "parking-brake": _tug("parking-brake", parking="out", trailer="in"),
    "trailer-brake": _tug("trailer-brake", parking="in", trailer="out"),
    "hand-valve": _hand_valve,
    "service-brake": _service_brake,
}
