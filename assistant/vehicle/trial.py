"""A pair of patient hands on a vehicle: fill it, fan it, wait for something, note where the needles stand.

Law: works a vehicle through its controls like anyone else; knows no test and judges nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy

from assistant.core.events import Needle, Reading
from assistant.vehicle.cab import Happening
from assistant.vehicle.vehicle import STEP, Vehicle

FILLING = 3600.0
"""Seconds after which a vehicle that is not full never will be."""
EMPTY = 15.0
"""psi at which fanning ends when nothing has happened."""
HOLD, LIFT = 1.0, 1.0
"""Seconds down and up of one application while fanning."""


class Trial:
    """Hands on one vehicle. `needles`: note what the needles show instead of the true pressures. `lift`: seconds
    between two applications while fanning."""

    def __init__(self, vehicle: Vehicle, rpm: float, needles: bool, lift: float = LIFT) -> None:
        self.vehicle = vehicle
        self.readings: dict[str, tuple[Reading, ...]] = {}
        self._fast = vehicle.cab.throttle_for(rpm)
        self._needles = needles
        self._lift = lift

    def again(self) -> Trial:
        """Hands on a vehicle that is just as this one is now, whatever is done to either afterwards."""
        return deepcopy(self)

    def _look(self) -> dict[Needle, float]:
        return self.vehicle.needles() if self._needles else self.vehicle.pressures()

    def note(self, slot: str, *, higher_only: bool = False) -> None:
        """Write down where both needles stand, or only the higher one, which is what a dash valve feels."""
        at_ms, seen = round(self.vehicle.now_s * 1000), self._look()
        wanted = [max(seen, key=lambda name: seen[name])] if higher_only else list(seen)
        self.readings[slot] = tuple(
            Reading(value=max(seen[name], 0.0), unit="psi", needle=name, at_ms=at_ms) for name in wanted
        )

    def lowest(self) -> float:
        return min(self._look().values())

    def stands_at(self, psi: float) -> bool:
        """Whether both needles are at least there."""
        return self.lowest() >= psi

    def put(self, **controls: str | float) -> None:
        """Set controls in the order given; one that the vehicle does not have is passed over."""
        for name, value in controls.items():
            control = name.replace("_", " ")
            if control in self.vehicle.controls:
                self.vehicle.set(control, value)

    def wait(self, until: Callable[[], bool], at_most: float) -> bool:
        """Let time pass until something is so; False when it never was."""
        for _ in range(round(at_most / STEP)):
            if until():
                return True
            self.vehicle.step(STEP)
        return until()

    def listen(self, *sounds: Happening, at_most: float) -> bool:
        """Let time pass until one of these is heard; False when none was."""
        end = self.vehicle.now_s + at_most
        while self.vehicle.now_s < end:
            if any(heard in sounds for heard in self.vehicle.step(5 * STEP)):
                return True
        return False

    def start(self) -> None:
        """Start the engine and run it fast."""
        self.put(key="on", engine="on", throttle=self._fast)

    def fill(self) -> bool:
        """Run the engine fast until the compressor unloads or, if it never does, the safety valve blows."""
        self.start()
        full = self.listen("dryer purged", "safety valve opened", at_most=FILLING)
        self.put(throttle=0.0)
        return full

    def fill_released(self) -> bool:
        """The same with parking brake and trailer brakes released."""
        self.put(parking_knob="in", trailer_knob="in")
        return self.fill()

    def fan(self, until: Callable[[], bool], travel: float = 1.0) -> bool:
        """Press and lift the pedal until something is so, or the air is used up; stops at that very moment."""
        while max(self.vehicle.pressures().values()) > EMPTY:
            for pedal, seconds in ((travel, HOLD), (0.0, self._lift)):
                self.put(pedal=pedal)
                if self.wait(until, seconds):
                    return True
        return False
