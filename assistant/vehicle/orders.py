"""What a trainee says to have done: "start engine", "pedal down", "push trailer knob", "pump 5", "wait 30".

Law: an order is worked as hands would work it, or it is no order at all; a report about the vehicle ("engine running")
moves nothing. The wordings are data (words/orders.toml): the same for who types and for the ears of who speaks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from itertools import chain, product
from pathlib import Path

from assistant.core.numbers import from_figures, value_of, words_of
from assistant.vehicle import tables
from assistant.vehicle.vehicle import Vehicle

Move = tuple[str, str | float]
_FAST = "fast"
"""Stands for the throttle position of the operating speed."""
_LITTLE_WORDS = ("the", "a", "my", "i", "now")
_NOUNS = re.compile(r"\b(engine|key|pedal|brake|brakes|parking|trailer|hand|wheel|wheels|vehicle|chocks)\b")
_PUMP = re.compile(r"pump(?: brakes?| brake pedal| pedal)?(?P<gently> gently)?(?: (?P<times>.+?))??(?: times)?")
_WAIT = re.compile(r"wait (?P<seconds>.+?)(?: seconds| s)?")
_PART = re.compile(r"[.,;:]| then |(?<!hundred) and (?!hold)")
_MOST_PUMPS, _LONGEST_WAIT = 99, 999
EXAMPLES = (
    "start engine, engine fast, engine idle, stop engine, key on, pedal down, pedal up, pump 5, pump gently 3, "
    "release parking brake, set parking brake, push trailer knob, pull trailer knob, pull hand valve, "
    "release hand valve, low gear, neutral, take chocks out, chock wheels, wait 30"
)


class _Order(tables.Part):
    said: list[str]
    moves: dict[str, str | float]


class _Orders(tables.Part):
    order: list[_Order]


def order(text: str, vehicle: Vehicle) -> Iterator[float] | None:
    """The orders in `text`, to be worked by going through the seconds that they let pass; None: there is none.

    Going on may raise Trouble when the vehicle has no such control.
    """
    found = [work for part in _parts(text) if (work := _order(part, vehicle)) is not None]
    return chain.from_iterable(found) if found else None


def is_order(text: str, vehicle: Vehicle) -> bool:
    """Whether it is nothing but orders."""
    return all(_order(part, vehicle) is not None for part in _parts(text))


def turns() -> tuple[tuple[str, ...], ...]:
    """All orders as a person may say them, as words, for ears that expect them."""
    plain = [*_moves(), *(" ".join(words) for words in _counted())]
    spoken = [form for wording in plain for form in (wording, _NOUNS.sub(r"the \1", wording, count=1))]
    return tuple(tuple(f"{lead}{form}".split()) for form in spoken for lead in ("", "i ", "now i "))


def _counted() -> Iterator[tuple[str, ...]]:
    """Orders with a number in them."""
    for times in range(1, 21):
        yield "pump", *words_of(times), "times"
        yield "pump", "pedal", *words_of(times), "times"
        yield "pump", "gently", *words_of(times), "times"
    for seconds in range(5, 121, 5):
        yield "wait", *words_of(seconds), "seconds"
    yield from (("pump", "pedal"), ("pump", "gently"))


@cache
def _moves() -> dict[str, tuple[Move, ...]]:
    """Every wording in full, and what it moves."""
    path = Path(str(files("assistant.vehicle").joinpath("words", "orders.toml")))
    known = tables.checked(_Orders, tables.read(path), path).order
    return {wording: tuple(each.moves.items()) for each in known for said in each.said for wording in _in_full(said)}


def _in_full(said: str) -> Iterator[str]:
    """The wordings that stand in "pull [out] knob|valve"."""
    pieces = re.findall(r"\[([^\]]*)\]|([^\[\]]+)", said)
    for chosen in product(*(["", *_each(left_out)] if left_out else _each(always) for left_out, always in pieces)):
        yield " ".join(" ".join(chosen).split())


def _each(text: str) -> list[str]:
    return [" ".join(words) for words in product(*(word.split("|") for word in text.split()))]


def _parts(text: str) -> list[str]:
    """What is said in one breath: "I start the engine, then fast idle"."""
    return [part for part in _PART.split(text.lower()) if part.strip()]


def _order(part: str, vehicle: Vehicle) -> Iterator[float] | None:
    words = " ".join(word for word in re.findall(r"[a-z0-9]+", part) if word not in _LITTLE_WORDS)
    if words in _moves():
        return _work(vehicle, _moves()[words])
    if pump := _PUMP.fullmatch(words):
        times = _number(pump["times"] or "one", _MOST_PUMPS)
        return None if times is None else _pump(vehicle, 0.25 if pump["gently"] else 1.0, times)
    if wait := _WAIT.fullmatch(words):
        seconds = _number(wait["seconds"], _LONGEST_WAIT)
        return None if seconds is None else iter((float(seconds),))
    return None


def _number(said: str, most: int) -> int | None:
    """A whole number in words or figures."""
    value = value_of(from_figures(said) or tuple(said.split()))
    return int(value) if value is not None and value == int(value) and 0 < value <= most else None


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
