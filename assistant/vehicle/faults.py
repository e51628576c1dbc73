"""Faults by name: what can be wrong with a vehicle, in the words and units of what a driver would notice.

Law: a fault only changes the condition of the vehicle. A leak is stated as the psi a minute that the gauge should lose,
and a trial run finds the hole that does it in this vehicle.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any, Literal

from assistant.core.trouble import BadInput
from assistant.vehicle.condition import Condition, Place
from assistant.vehicle.leak import hole_for
from assistant.vehicle.spec import VehicleSpec

Change = Callable[[VehicleSpec, Condition, float], Condition]
Needs = Literal["nothing", "a trailer knob", "a trailer"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault. `usual`: its size when none is given, in `unit`, within `low` to `high`; None: it has no size.
    `needs`: the part of the vehicle without which it makes no sense."""

    about: str
    change: Change
    unit: str = ""
    usual: float | None = None
    low: float = 0.0
    high: float = 0.0
    needs: Needs = "nothing"

    def fits(self, spec: VehicleSpec) -> bool:
        """Whether a vehicle like this can have it."""
        if self.needs == "a trailer":
            return spec.towed is not None
        return self.needs == "nothing" or spec.supply_line_in3 is not None


def _leak(place: Place, about: str, needs: Needs = "nothing") -> Kind:
    def change(spec: VehicleSpec, condition: Condition, size: float) -> Condition:
        return replace(condition, leaks={**condition.leaks, place: hole_for(spec, place, size)})

    return Kind(about, change, "psi a minute", usual=6.0, low=0.1, high=20.0, needs=needs)


def _governor(cut_out: bool) -> Change:
    """The adjusting screw moves cut-out and cut-in together."""

    def change(spec: VehicleSpec, condition: Condition, size: float) -> Condition:
        band = spec.cut_out_psi - spec.cut_in_psi
        out = size if cut_out else size + band
        return replace(condition, cut_out_psi=out, cut_in_psi=out - band)

    return change


def _put(**fields: Any) -> Change:
    """Set fields of the condition; None stands for the size of the fault."""

    def change(_: VehicleSpec, condition: Condition, size: float) -> Condition:
        changes: dict[str, Any] = {name: size if value is None else value for name, value in fields.items()}
        return replace(condition, **changes)

    return change


def _stick(needle: str) -> Change:
    def change(_: VehicleSpec, condition: Condition, size: float) -> Condition:
        return replace(condition, stiction_psi={**condition.stiction_psi, needle: size})

    return change


def _share(about: str, change: Change, usual: float, needs: Needs = "nothing") -> Kind:
    return Kind(about, change, "share of a sound one", usual=usual, low=0.0, high=1.0, needs=needs)


def _psi(about: str, change: Change, usual: float, low: float, high: float, needs: Needs = "nothing") -> Kind:
    return Kind(about, change, "psi", usual=usual, low=low, high=high, needs=needs)


KINDS: dict[str, Kind] = {
    "leak-wet": _leak("wet", "the wet tank leaks; the check valves hide it from the gauge"),
    "leak-primary": _leak("primary", "the primary tank leaks"),
    "leak-secondary": _leak("secondary", "the secondary tank leaks"),
    "leak-rear-chambers": _leak("rear", "a rear service chamber leaks while the pedal is down"),
    "leak-front-chambers": _leak("front", "a front service chamber leaks while the pedal is down"),
    "leak-springs": _leak("springs", "the parking brake circuit leaks while the brakes are released"),
    "leak-trailer-line": _leak("trailer-line", "the trailer supply line leaks", needs="a trailer knob"),
    "leak-trailer-reservoir": _leak("trailer-reservoir", "the trailer reservoir leaks", needs="a trailer"),
    "leak-trailer-chambers": _leak(
        "trailer-chambers", "a trailer service chamber leaks while the pedal is down", needs="a trailer"
    ),
    "weak-compressor": _share("the compressor gives less air", _put(compressor=None), usual=0.4),
    "governor-high": _psi("the governor cuts out, and in, too high", _governor(cut_out=True), 145.0, 100.0, 149.0),
    "governor-low": _psi("the governor cuts in, and out, too low", _governor(cut_out=False), 88.0, 40.0, 125.0),
    "governor-never-loads": Kind("the compressor does not start again after a cut-out", _put(governor_loads=False)),
    "governor-never-unloads": Kind("the compressor never stops: no cut-out", _put(governor_unloads=False)),
    "warning-late": _psi("the low-air switch closes too low", _put(warning_psi=None), 45.0, 0.0, 100.0),
    "warning-dead": Kind("neither warning light nor buzzer", _put(light_works=False, buzzer_works=False)),
    "warning-light-dead": Kind("no warning light: buzzer only", _put(light_works=False)),
    "warning-buzzer-dead": Kind("no warning buzzer: light only", _put(buzzer_works=False)),
    "trailer-knob-stays": Kind("the trailer knob never pops", _put(trailer_pop_psi=0.0), needs="a trailer knob"),
    "trailer-knob-early": _psi(
        "the trailer knob pops too early", _put(trailer_pop_psi=None), 60.0, 40.0, 100.0, "a trailer knob"
    ),
    "parking-knob-stays": Kind("the parking knob never pops", _put(parking_pop_psi=0.0)),
    "parking-knob-early": _psi("the parking knob pops too early", _put(parking_pop_psi=None), 60.0, 30.0, 100.0),
    "tractor-protection-fails": Kind(
        "the trailer knob never pops, and pulling it leaves the trailer line full",
        _put(trailer_pop_psi=0.0, protection_works=False),
        needs="a trailer knob",
    ),
    "parking-brake-weak": _share("the parking brake holds too little", _put(parking_force=None), usual=0.2),
    "trailer-brake-weak": _share("the trailer's brakes hold too little", _put(trailer_force=None), 0.1, "a trailer"),
    "service-brake-pulls-left": Kind("braking pulls to the left", _put(pulls_to="left")),
    "service-brake-pulls-right": Kind("braking pulls to the right", _put(pulls_to="right")),
    "needle-sticks-primary": _psi("the primary needle sticks and jumps", _stick("primary"), 8.0, 1.0, 150.0),
    "needle-sticks-secondary": _psi("the secondary needle sticks and jumps", _stick("secondary"), 8.0, 1.0, 150.0),
}
"""Every fault, by the name that a scenario or a command line uses."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one size. Raises BadInput when there is no such fault or it can't have this size."""

    name: str
    size: float | None = None

    def __post_init__(self) -> None:
        kind = KINDS.get(self.name)
        if kind is None:
            raise BadInput(f"There is no fault {self.name}. Choose from {', '.join(KINDS)}.")
        if self.size is None:
            return
        if kind.usual is None:
            raise BadInput(f"The fault {self.name} has no size. Leave out ={self.size:g}.")
        if not kind.low <= self.size <= kind.high:
            raise BadInput(f"{self.name} can't be {self.size:g}. Give {kind.low:g} to {kind.high:g} {kind.unit}.")

    @classmethod
    def parse(cls, text: str) -> Fault:
        """From "leak-primary=5" or "warning-dead"; raises BadInput with what to write instead."""
        name, equals, size = text.partition("=")
        try:
            return cls(name.strip(), float(size) if equals else None)
        except ValueError:
            raise BadInput(f"{size.strip()} is not a number in the fault {text}. Write {name.strip()}=5.") from None

    def __str__(self) -> str:
        return self.name if self.size is None else f"{self.name}={self.size:g}"


def condition_of(spec: VehicleSpec, faults: Iterable[Fault]) -> Condition:
    """The condition of a vehicle with these faults; of two that touch the same part the later one counts.

    Raises BadInput when this vehicle can't have one of them.
    """
    condition = Condition.sound(spec)
    for fault in faults:
        kind = KINDS[fault.name]
        if not kind.fits(spec):
            raise BadInput(f"{fault.name} needs {kind.needs}, and the {spec.vehicle_class} has none. Leave it out.")
        size = fault.size if fault.size is not None else kind.usual
        condition = kind.change(spec, condition, size or 0.0)
    return condition
