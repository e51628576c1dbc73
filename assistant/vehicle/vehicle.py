"""One simulated vehicle: work its controls, let time pass, look at its gauge and its signals.

Law: time passes in steps of equal length and nothing else changes the state, so the same script always gives the same
vehicle, however it is sliced. There is no chance in it and no clock.
Checked against laws, regulations and numerical references; no trace of a real vehicle was available.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Literal

from assistant.core.events import Needle
from assistant.core.trouble import Trouble
from assistant.vehicle.cab import Cab, Control, Happening
from assistant.vehicle.condition import Condition, Place, Side
from assistant.vehicle.faults import Fault, condition_of
from assistant.vehicle.gauge import PressureNeedle, at_mark
from assistant.vehicle.motion import Motion
from assistant.vehicle.plumbing import Plumbing
from assistant.vehicle.spec import VehicleSpec, load

STEP = 0.02
"""Seconds of one step. Against 1 ms the needles are within 0.2 psi: tests/bench/vehicle.py measures it."""
HISS = 1.0
"""Seconds that a dryer purge can be heard. Assumption."""
MPH = 0.44704
"""m/s in one mile per hour (exact)."""
Knob = Literal["in", "out"]


@dataclass(frozen=True, slots=True)
class Signals:
    """What driver and bystander see, hear and feel, apart from the gauge.

    `trailer_knob`: None when there is none. `purging`: the dryer hisses; `blowing`: the safety valve does.
    `pull`: the side to which the vehicle pulls while it brakes. `speed_mph`: forward positive.
    """

    light: bool
    buzzer: bool
    engine: bool
    rpm: float
    parking_knob: Knob
    trailer_knob: Knob | None
    purging: bool
    blowing: bool
    moving: bool
    speed_mph: float
    pull: Side | None


class Vehicle:
    """A vehicle with its faults, engine off, brakes set, chocks in, `start_psi` in all tanks.

    `thermal`: the air in the tanks warms and cools. `slope`: rise over run of the road. `step_s`: see STEP.
    Raises BadInput when a file or a fault can't be used.
    """

    def __init__(
        self,
        spec: VehicleSpec,
        faults: Iterable[Fault] = (),
        *,
        start_psi: float = 0.0,
        thermal: bool = False,
        slope: float = 0.0,
        step_s: float = STEP,
    ) -> None:
        self.spec, self.faults = spec, tuple(faults)
        self._thermal, self._slope, self._step_s = thermal, slope, step_s
        self.condition: Condition = condition_of(spec, self.faults)
        self.air = Plumbing(spec, self.condition, start_psi, thermal)
        self.cab = Cab(spec, self.condition)
        self._motion = Motion(spec, self.condition, slope)
        self._has_line = self.air.line is not None
        self._primary, self._secondary = (
            PressureNeedle(start_psi, step_s, self.condition.stiction_psi.get(name, 0.0))
            for name in ("primary", "secondary")
        )
        self._steps, self._owed, self._hiss = 0, 0.0, 0.0
        self._pending: list[Happening] = []

    @classmethod
    def from_toml(
        cls,
        which: str | Path,
        faults: Iterable[str | Fault] = (),
        *,
        start_psi: float = 0.0,
        thermal: bool = False,
        slope: float = 0.0,
    ) -> Vehicle:
        """A shipped vehicle by name or any vehicle file by path, with faults as in `faults.Fault.parse`."""
        given = (each if isinstance(each, Fault) else Fault.parse(each) for each in faults)
        return cls(load(which), given, start_psi=start_psi, thermal=thermal, slope=slope)

    def another(self, start_psi: float = 0.0) -> Vehicle:
        """The same vehicle with the same faults, at the beginning."""
        return Vehicle(
            self.spec,
            self.faults,
            start_psi=start_psi,
            thermal=self._thermal,
            slope=self._slope,
            step_s=self._step_s,
        )

    @property
    def now_s(self) -> float:
        """Seconds since the beginning, to the last whole step."""
        return self._steps * self._step_s

    @property
    def controls(self) -> tuple[Control, ...]:
        """The controls that this vehicle has; see `cab.POSITIONS` for what they can be set to."""
        return self.cab.controls

    def set(self, control: str, value: str | float) -> None:
        """Bring a control into a position. Raises Trouble for a control or position that does not exist."""
        self._pending.extend(self.cab.set(control, value))

    def step(self, seconds: float) -> tuple[Happening, ...]:
        """Let time pass; a rest shorter than one step is kept for the next call. Returns what was heard, in order."""
        if not (isfinite(seconds) and seconds >= 0.0):
            raise Trouble(f"Time can't pass by {seconds} seconds. Give a number that is not negative.")
        self._owed += seconds
        steps = int(self._owed / self._step_s + 1e-6)
        self._owed -= steps * self._step_s
        for _ in range(steps):
            self._tick()
        happened = tuple(self._pending)
        self._pending.clear()
        return happened

    def pressures(self) -> dict[Needle, float]:
        """True pressure in the two service tanks, psi: what a perfect gauge would show."""
        return {"primary": self.air.psi("primary"), "secondary": self.air.psi("secondary")}

    def needles(self) -> dict[Needle, float]:
        """Where the two needles stand, psi."""
        return {"primary": self._primary.psi, "secondary": self._secondary.psi}

    def readings(self) -> dict[Needle, float]:
        """What a person reads from the needles: the nearest mark, psi."""
        return {name: at_mark(psi, self.spec.gauge_mark_psi) for name, psi in self.needles().items()}

    def psi(self, place: Place) -> float:
        """True pressure in one of the vessels, psi. Raises Trouble for a part that this vehicle does not have."""
        if place not in self.air.vessels:
            raise Trouble(f"This vehicle has no {place}. It has {', '.join(self.air.vessels)}.")
        return self.air.psi(place)

    def signals(self) -> Signals:
        """Everything else that can be noticed at this moment."""
        hands, sound = self.cab.hands, self.condition
        warned = self.cab.key and min(self.pressures().values()) < sound.warning_psi
        braking = hands.pedal > 0.0 and self._motion.moving
        return Signals(
            light=warned and sound.light_works,
            buzzer=warned and sound.buzzer_works,
            engine=self.cab.running,
            rpm=hands.rpm,
            parking_knob="in" if hands.parking_in else "out",
            trailer_knob=("in" if hands.trailer_in else "out") if self._has_line else None,
            purging=self._hiss > 0.0,
            blowing=self.air.blowing,
            moving=self._motion.moving,
            speed_mph=self._motion.speed / MPH,
            pull=sound.pulls_to if braking else None,
        )

    def _tick(self) -> None:
        air, cab, seconds = self.air, self.cab, self._step_s
        loaded, blowing = air.loaded, air.blowing
        air.step(cab.hands, seconds)
        if loaded and not air.loaded:
            self._hiss = HISS
            self._pending.append("dryer purged")
        elif self._hiss > 0.0:
            self._hiss -= seconds
        if air.blowing and not blowing:
            self._pending.append("safety valve opened")
        primary, secondary = air.psi("primary"), air.psi("secondary")
        line = air.psi("trailer-line") if self._has_line else None
        self._pending.extend(cab.pop(max(primary, secondary), line, seconds))
        self._primary.follow(primary)
        self._secondary.follow(secondary)
        self._motion.step(air, cab.drive, cab.chocked, seconds)
        self._steps += 1
