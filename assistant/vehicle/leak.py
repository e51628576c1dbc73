"""How big a hole is: from the psi a minute that the gauge should lose to the sonic conductance of the leak.

Law: the answer comes from the vehicle itself. A trial run fills it, stops the engine, holds the brakes as the leak
needs it and looks at the needle that falls most; the hole is corrected until the minute shows the wanted loss.
The same hole loses less at a lower pressure (choked flow goes with absolute pressure), so the rate belongs to a vehicle
filled to its cut-out.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from assistant.core.trouble import BadInput
from assistant.vehicle.air import IN3, PSI, REFERENCE, absolute
from assistant.vehicle.condition import Condition, Place
from assistant.vehicle.plumbing import Hands, Plumbing
from assistant.vehicle.spec import VehicleSpec

STEP = 0.02
PATIENCE = 600.0
"""Seconds within which a compressor that keeps up with the leak has filled any vehicle from its cut-in."""
SETTLED = 15.0
"""Seconds after which the needles stand still when nothing leaks."""
NEAR_ENOUGH = 0.003
"""Relative error of the loss at which the search ends."""
APPLIED: tuple[Place, ...] = ("rear", "front", "trailer-chambers")
"""Places that hold air only while the service brakes are applied."""


@lru_cache(maxsize=256)
def hole_for(spec: VehicleSpec, place: Place, psi_per_minute: float) -> float:
    """Sonic conductance, m3/(s Pa), of a leak in one place of an otherwise sound vehicle.

    The wet tank has no needle and the check valves keep the gauge from seeing it: its rate is its own loss.
    Raises BadInput when the vehicle can't be filled against such a leak or never shows it.
    """
    fed = (spec.tanks.wet_in3 + spec.tanks.primary_in3) * IN3
    size = fed * psi_per_minute * PSI / 60.0 / (REFERENCE * absolute(spec.cut_out_psi))
    for _ in range(12):
        lost = _loss(spec, place, size)
        if lost <= 0.0:
            break
        if abs(lost / psi_per_minute - 1.0) < NEAR_ENOUGH:
            return size
        size *= psi_per_minute / lost
    raise BadInput(
        f"This vehicle can't be filled with a leak of {psi_per_minute:g} psi a minute at {place}. Give a smaller one."
    )


def _loss(spec: VehicleSpec, place: Place, size: float) -> float:
    """psi lost in the minute after settling; 0 when the vehicle can't be filled."""
    leaking = replace(Condition.sound(spec), leaks={place: size})
    air = Plumbing(spec, leaking, start_psi=spec.cut_in_psi)
    hands = Hands(parking_in=True, trailer_in=air.line is not None, rpm=spec.engine.governed_rpm)
    seconds = 0.0
    while air.loaded:
        air.step(hands, STEP)
        seconds += STEP
        if seconds > PATIENCE:
            return 0.0
    hands.rpm = 0.0
    hands.pedal = 1.0 if place in APPLIED else 0.0
    _pass(air, hands, SETTLED)
    watched: tuple[Place, ...] = ("wet",) if place == "wet" else ("primary", "secondary")
    before = {each: air.psi(each) for each in watched}
    _pass(air, hands, 60.0)
    return max(before[each] - air.psi(each) for each in watched)


def _pass(air: Plumbing, hands: Hands, seconds: float) -> None:
    for _ in range(round(seconds / STEP)):
        air.step(hands, STEP)
