"""Tug and roll: how the vehicle moves against its brakes.

Law: along the road there are four forces (engine, slope, rolling, brakes); brakes and rolling only ever oppose.
Assumptions: the clutch or converter slips, so a held vehicle does not stall its engine; brakes that do not lock;
wheels behind chocks never move; a vehicle with one weak side still goes straight, it only pulls.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.vehicle.condition import Condition
from assistant.vehicle.plumbing import HOLD_OFF, Plumbing
from assistant.vehicle.spec import VehicleSpec

GRAVITY = 9.80665
PARKING_SHARE = 0.20
"""Spring brakes hold this share of their own unit's weight: the 20 % grade of 49 CFR 571.121 S5.6, from memory."""
SERVICE_SHARE = 0.45
"""Service brakes give this share of their unit's weight at 100 psi. Assumption."""
REAR_SHARE = 0.65
"""Part of that at the rear axles of the power unit. Assumption."""
ROLLING_SHARE = 0.007
"""Rolling resistance as a share of weight. Assumption."""
LOW_GEAR = 0.0016
"""m/s in low gear for each revolution a minute of the engine: 4.5 mph at 1 250. Assumption."""
CREEP = 0.02
"""m/s below which a driver feels nothing."""


@dataclass(slots=True)
class Drive:
    """`direction`: 1 forward, -1 backward, 0 neutral. `throttle` 0 to 1, `rpm` 0 when the engine is off."""

    direction: int = 0
    throttle: float = 0.0
    rpm: float = 0.0


class Motion:
    """Speed of the vehicle, m/s, forward positive. `slope`: rise over run of the road ahead, 0.02 = two per cent up."""

    def __init__(self, spec: VehicleSpec, condition: Condition, slope: float = 0.0) -> None:
        self._spec, self._condition = spec, condition
        self._towed_kg = spec.towed.trailers * spec.towed.weight_kg if spec.towed else 0.0
        self._kg = spec.weight_kg + self._towed_kg
        self._downhill = -slope * self._kg * GRAVITY
        self.speed = 0.0

    @property
    def moving(self) -> bool:
        return abs(self.speed) > CREEP

    def step(self, air: Plumbing, drive: Drive, chocked: bool, seconds: float) -> None:
        if chocked:
            self.speed = 0.0
            return
        push = self._pull(drive) + self._downhill
        if push == 0.0 and self.speed == 0.0:
            return
        hold = self._hold(air)
        if self.speed == 0.0:
            net = 0.0 if abs(push) <= hold else push - (hold if push > 0.0 else -hold)
            self.speed = net / self._kg * seconds
            return
        resist = hold if self.speed > 0.0 else -hold
        after = self.speed + (push - resist) / self._kg * seconds
        self.speed = 0.0 if after * self.speed < 0.0 else after  # brakes stop a vehicle, they never reverse it

    def _pull(self, drive: Drive) -> float:
        """Tractive force, N: full at standstill, none at the road speed of the gear."""
        if drive.direction == 0 or drive.rpm == 0.0:
            return 0.0
        slip = 1.0 - drive.direction * self.speed / (LOW_GEAR * drive.rpm)
        return drive.direction * 1000.0 * self._spec.engine.tug_kn * (1.0 + drive.throttle) * max(-1.0, slip)

    def _hold(self, air: Plumbing) -> float:
        """The most that brakes and rolling can resist, N."""
        sound = self._condition
        springs = PARKING_SHARE * sound.parking_force * _sprung(air.psi("springs"))
        service = REAR_SHARE * air.psi("rear") + (1.0 - REAR_SHARE) * air.psi("front")
        total = self._spec.weight_kg * (springs + SERVICE_SHARE * service / 100.0)
        if self._towed_kg:
            springs = PARKING_SHARE * _sprung(air.psi("trailer-line"))
            service = SERVICE_SHARE * air.psi("trailer-chambers") / 100.0
            total += self._towed_kg * sound.trailer_force * max(springs, service)
        return (total + ROLLING_SHARE * self._kg) * GRAVITY


def _sprung(psi: float) -> float:
    """Share of the spring force that pushes through `psi` of hold-off pressure."""
    low, high = HOLD_OFF
    return min(1.0, max(0.0, (high - psi) / (high - low)))
