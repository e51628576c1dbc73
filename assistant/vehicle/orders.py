"""What a trainee says to have done: "start engine", "pedal down", "push trailer knob", "pump 5", "wait 30".

Law: an order is worked as hands would work it, or it is no order at all; a report about the vehicle ("engine running")
moves nothing. The wording is that of the trade: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain

from assistant.vehicle.vehicle import Vehicle

Move = tuple[str, str | float]
_FAST = "fast"
"""Stands for the throttle position of the operating speed."""

_ORDERS: dict[str, tuple[Move, ...]] = {
    r"key on": (("key", "on"),),
    r"key off": (("key", "off"),),
    r"start engine|start up engine|engine start|engine on|turn engine on": (("key", "on"), ("engine", "on")),
    r"stop engine|engine off|engine stop|(shut|turn|switch) (engine off|off engine)|shut (engine down|down engine)": (
        ("throttle", 0.0),
        ("engine", "off"),
    ),
    r"engine fast|fast idle|operating speed|throttle up": (("throttle", _FAST),),
    r"engine idle|idle|throttle (down|off)": (("throttle", 0.0),),
    r"pedal down|press (brake )?pedal( down| all way down)?( and hold it)?|full pedal|brake": (("pedal", 1.0),),
    r"pedal half|half pedal": (("pedal", 0.5),),
    r"pedal gently|gentle pedal": (("pedal", 0.25),),
    r"pedal up|release pedal|let go of pedal": (("pedal", 0.0),),
    r"pull hand valve|hand valve on": (("hand valve", 1.0),),
    r"release hand valve|hand valve off": (("hand valve", 0.0),),
    r"release parking brake|push parking (knob|valve|brake)|parking knob in": (("parking knob", "in"),),
    r"set parking brake|pull parking (knob|valve|brake)|parking knob out": (("parking knob", "out"),),
    r"push trailer (knob|valve|supply)|trailer knob in|release trailer": (("trailer knob", "in"),),
    r"pull trailer (knob|valve|supply)|trailer knob out": (("trailer knob", "out"),),
    r"low gear|gear low|first gear": (("gear", "low"),),
    r"reverse|gear reverse|reverse gear": (("gear", "reverse"),),
    r"neutral|gear neutral": (("gear", "neutral"),),
    r"chock wheels|chocks in|put chocks in|wheels are chocked": (("chocks", "in"),),
    r"take chocks (away|out)|remove (wheel )?chocks|chocks out": (("chocks", "out"),),
}
_PUMP = re.compile(r"pump( gently)?( (\d{1,2}))?( times)?")
_PART = re.compile(r"[.,;:]| then | and (?!hold)")
_WAIT = re.compile(r"wait (\d{1,3})( seconds| s)?")
EXAMPLES = (
    "start engine, engine fast, engine idle, stop engine, key on, pedal down, pedal up, pump 5, pump gently 3, "
    "release parking brake, set parking brake, push trailer knob, pull trailer knob, pull hand valve, "
    "release hand valve, low gear, neutral, take chocks out, chock wheels, wait 30"
)


def order(text: str, vehicle: Vehicle) -> Iterator[float] | None:
    """The orders in `text`, to be worked by going through the seconds that they let pass; None: there is none.

    Going on may raise Trouble when the vehicle has no such control.
    """
    found = [work for part in _parts(text) if (work := _order(part, vehicle)) is not None]
    return chain.from_iterable(found) if found else None


def is_order(text: str, vehicle: Vehicle) -> bool:
    """Whether it is nothing but orders."""
    return all(_order(part, vehicle) is not None for part in _parts(text))


def _parts(text: str) -> list[str]:
    """What is said in one breath: "I start the engine, then fast idle"."""
    return [part for part in _PART.split(text.lower()) if part.strip()]


def _order(text: str, vehicle: Vehicle) -> Iterator[float] | None:
    words = " ".join(word for word in re.findall(r"[a-z0-9]+", text.lower()) if word not in ("the", "a", "my", "i"))
    for wording, moves in _ORDERS.items():
        if re.fullmatch(wording, words):
            return _work(vehicle, moves)
    if pump := _PUMP.fullmatch(words):
        return _pump(vehicle, 0.25 if pump[1] else 1.0, int(pump[3] or 1))
    if wait := _WAIT.fullmatch(words):
        return iter((float(wait[1]),))
    return None


def _work(vehicle: Vehicle, moves: tuple[Move, ...]) -> Iterator[float]:
    for control, value in moves:
        fast = vehicle.cab.throttle_for(vehicle.spec.engine.operating_rpm)
        vehicle.set(control, fast if value == _FAST else value)
    yield 0.1


def _pump(vehicle: Vehicle, travel: float, times: int) -> Iterator[float]:
    for _ in range(times):
        vehicle.set("pedal", travel)
        yield 1.0
        vehicle.set("pedal", 0.0)
        yield 1.0
