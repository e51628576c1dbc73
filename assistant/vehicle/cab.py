"""What the driver's hands and feet work: key, engine, pedals, hand valve, knobs, gear and chocks.

Law: a control does what it would do under a hand and no more: an engine does not start with the key off, a knob does
not stay in without air behind it. Only a control or a position that does not exist is an error.
"""

from __future__ import annotations

from typing import Literal, get_args

from assistant.core.trouble import Trouble
from assistant.vehicle.condition import Condition
from assistant.vehicle.motion import Drive
from assistant.vehicle.plumbing import Hands
from assistant.vehicle.spec import VehicleSpec

Control = Literal["key", "engine", "throttle", "pedal", "hand valve", "parking knob", "trailer knob", "gear", "chocks"]
POSITIONS: dict[str, tuple[str, ...]] = {
    "key": ("off", "on"),
    "engine": ("off", "on"),
    "parking knob": ("out", "in"),
    "trailer knob": ("out", "in"),
    "gear": ("neutral", "low", "reverse"),
    "chocks": ("out", "in"),
}
"""Controls with positions. The others (throttle, pedal, hand valve) go from 0.0, released, to 1.0, to the end."""
PATIENCE = 30.0
"""Seconds that a hand holds the trailer knob in while the line fills: three empty trailers need most. Assumption."""
Happening = Literal["parking knob popped", "trailer knob popped", "dryer purged", "safety valve opened"]
"""What a driver hears at one moment."""


class Cab:
    """The controls of one vehicle. At first all off, knobs out, neutral, chocks in."""

    def __init__(self, spec: VehicleSpec, condition: Condition) -> None:
        self._engine, self._condition = spec.engine, condition
        missing = {"trailer knob": spec.supply_line_in3 is None, "hand valve": spec.towed is None}
        self.controls: tuple[Control, ...] = tuple(each for each in get_args(Control) if not missing.get(each))
        self.hands = Hands()
        self.drive = Drive()
        self.key = False
        self.running = False
        self.chocked = True
        self._hand_on_knob = 0.0

    def set(self, control: str, value: str | float) -> tuple[Happening, ...]:
        """Bring a control into a position; what can be heard at once.

        Raises Trouble when this vehicle has no such control or the control no such position.
        """
        if control not in self.controls:
            raise Trouble(f"This vehicle has no {control}. It has {', '.join(self.controls)}.")
        if control in POSITIONS:
            happened = self._put(control, _position(control, value))
        else:
            happened = self._press(control, _travel(control, value))
        engine, drive = self._engine, self.drive
        drive.rpm = engine.idle_rpm + drive.throttle * (engine.governed_rpm - engine.idle_rpm) if self.running else 0.0
        self.hands.rpm = drive.rpm
        return happened

    def throttle_for(self, rpm: float) -> float:
        """Throttle position that gives this engine speed, 0 to 1."""
        idle, governed = self._engine.idle_rpm, self._engine.governed_rpm
        return min(1.0, max(0.0, (rpm - idle) / (governed - idle)))

    def pop(self, higher_psi: float, line_psi: float | None, seconds: float) -> tuple[Happening, ...]:
        """Let knobs jump out that have lost their air.

        The parking knob feels the higher service tank, the trailer knob its own delivery line, so that a torn hose
        closes it while the tanks are still full; a parking knob that goes out takes the trailer knob with it.
        """
        hands = self.hands
        if hands.parking_in and higher_psi < self._condition.parking_pop_psi:
            hands.parking_in = False
            return ("parking knob popped", *self._drop_trailer_knob())
        if not hands.trailer_in or line_psi is None:
            return ()
        if line_psi >= self._condition.trailer_pop_psi:
            self._hand_on_knob = 0.0  # stays in by itself
        elif self._hand_on_knob > 0.0:
            self._hand_on_knob -= seconds
        else:
            return self._drop_trailer_knob()
        return ()

    def _drop_trailer_knob(self) -> tuple[Happening, ...]:
        if not self.hands.trailer_in or self._condition.trailer_pop_psi <= 0.0:
            return ()
        self.hands.trailer_in = False
        return ("trailer knob popped",)

    def _press(self, control: str, travel: float) -> tuple[Happening, ...]:
        if control == "pedal":
            self.hands.pedal = travel
        elif control == "hand valve":
            self.hands.hand_valve = travel
        else:
            self.drive.throttle = travel
        return ()

    def _put(self, control: str, at: str) -> tuple[Happening, ...]:
        if control == "key":
            self.key = at == "on"
            self.running = self.running and self.key
        elif control == "engine":
            self.running = self.key and at == "on"
        elif control == "trailer knob":
            self.hands.trailer_in = at == "in"
            self._hand_on_knob = PATIENCE
        elif control == "gear":
            self.drive.direction = {"neutral": 0, "low": 1, "reverse": -1}[at]
        elif control == "chocks":
            self.chocked = at == "in"
        elif self.hands.parking_in != (at == "in"):
            self.hands.parking_in = at == "in"
            return () if at == "in" else self._drop_trailer_knob()
        return ()


def _position(control: str, value: str | float) -> str:
    if value in POSITIONS[control]:
        return str(value)
    raise Trouble(f"The {control} can't be {value}. It can be {' or '.join(POSITIONS[control])}.")


def _travel(control: str, value: str | float) -> float:
    if isinstance(value, (int, float)) and 0.0 <= value <= 1.0:
        return float(value)
    raise Trouble(f"The {control} can't be {value}. Give a number from 0 (released) to 1 (to the end).")
