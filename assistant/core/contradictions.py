"""What a standard says that can't be true: found when it is read, so that no verdict rests on it.

Law: every contradiction is reported, each with the path of the field that a person has to change.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from assistant.core.events import TestId, VehicleClass
from assistant.core.limit import Built, Limit
from assistant.core.pressure import KPA_PER_PSI, Pressure
from assistant.core.standard import Standard

_LEAKAGE: tuple[TestId, ...] = ("static-leakage", "applied-leakage")
_POP_OUTS: tuple[TestId, ...] = ("trailer-supply-pop-out", "parking-valve-pop-out")
_MOVING: tuple[TestId, ...] = ("parking-brake", "trailer-brake", "hand-valve", "service-brake")
_FANNING: tuple[TestId, ...] = ("low-air-warning", *_POP_OUTS)
_EVERY_CLASS: tuple[VehicleClass, ...] = ("truck", "bus", "tractor", "combination", "doubles", "triples")
_EVERY_DATE: tuple[Built, ...] = ("before March 1975", "March 1975 to February 1997", "since March 1997")


class Contradiction(NamedTuple):
    """`path`: keys and indexes from the top of the file."""

    path: tuple[str | int, ...]
    message: str


def contradictions(standard: Standard) -> tuple[Contradiction, ...]:
    """Everything in the standard that contradicts itself; empty when it can be used."""
    found = list(_order(standard))
    for index, limit in enumerate(standard.limits):
        for key, message in _limit(limit):
            found.append(Contradiction(("limits", index, *key), message))
    for (_, one), (index, other) in combinations(enumerate(standard.limits), 2):
        if _overlap(one, other):
            message = f"there is already a limit of {other.test} for such a vehicle"
            found.append(Contradiction(("limits", index), message))
    return tuple(found)


def _order(standard: Standard) -> Iterator[Contradiction]:
    sequence = standard.sequence
    limited = {limit.test for limit in standard.limits}
    for index, test in enumerate(sequence):
        path = ("order", index)
        if test in sequence[:index]:
            yield Contradiction(path, f"{test} stands twice in the order")
        if test not in limited:
            yield Contradiction(path, f"{test} has no entry under limits")
        if test in standard.not_part:
            yield Contradiction(path, f"{test} is in the order and in not_part")
        yield from (Contradiction(path, message) for message in _dependencies(test, sequence[:index], sequence[index:]))


def _dependencies(test: TestId, before: Sequence[TestId], after: Sequence[TestId]) -> Iterator[str]:
    """The only order that the tests force: full tanks before a leakage test, falling pressure, still before moving."""
    fanned = max((before.index(other) for other in _FANNING if other in before), default=-1)
    if test in _LEAKAGE and fanned >= 0 and "build-up" not in before[fanned:]:
        yield f"{test} needs full tanks: put it before the pressure is pumped down, or build-up between"
    if test in _POP_OUTS and "low-air-warning" in after:
        yield f"{test} comes at a lower pressure than low-air-warning: put it after"
    if test not in _MOVING and any(other in before for other in _MOVING):
        yield f"{test} is done on chocks: put it before the tests that move the vehicle"


def _limit(limit: Limit) -> Iterator[tuple[tuple[str, ...], str]]:
    yield from _fields(limit)
    yield from _pairs(limit)
    high = limit.at_most or limit.less_than
    if limit.at_most and limit.less_than:
        yield ("less_than",), "at_most and less_than exclude each other"
    if limit.seconds_at_most and limit.seconds_less_than:
        yield ("seconds_less_than",), "seconds_at_most and seconds_less_than exclude each other"
    if limit.at_least and high and limit.at_least.value("psi") > high.value("psi"):
        yield ("at_least",), f"at least {limit.at_least.text()} is above the upper limit of {high.text()}"
    if limit.clear_fail and limit.at_least and limit.clear_fail.value("psi") >= limit.at_least.value("psi"):
        yield ("clear_fail",), "has to be below at_least"
    if limit.rise_from and limit.rise_to and limit.rise_from.value("psi") >= limit.rise_to.value("psi"):
        yield ("from",), "has to be below to"


_OF_QUANTITY = {
    "time": ("rise_from", "rise_to", "seconds_at_most", "seconds_less_than", "larger_tanks"),
    "pressure": ("at_least", "at_most", "less_than", "clear_fail"),
    "loss": ("at_most", "less_than", "per_minute"),
    "answer": ("must",),
}
_ANSWERS = {"parking-brake": "held", "trailer-brake": "held", "hand-valve": "felt", "service-brake": "straight"}


def _fields(limit: Limit) -> Iterator[tuple[tuple[str, ...], str]]:
    """Fields that say nothing about this test, and those that it can't do without."""
    wrong = {field for fields in _OF_QUANTITY.values() for field in fields} - set(_OF_QUANTITY[limit.quantity])
    wrong |= {"hold"} if limit.quantity != "loss" else set()
    wrong |= {"devices", "half_cut_out"} if limit.test != "low-air-warning" else set()
    wrong |= {"may_not_pop", "lines"} if limit.test not in _POP_OUTS else set()
    for field in sorted(wrong & limit.model_fields_set):
        yield (_key(field),), f"says nothing about {limit.test}"
    span = (limit.rise_from, limit.rise_to, limit.seconds_at_most or limit.seconds_less_than)
    if limit.quantity == "time" and not all(span):
        yield (), f"{limit.test} needs from, to, and seconds_at_most or seconds_less_than"
    if limit.quantity == "answer" and limit.must != _ANSWERS[limit.test]:
        yield (), f'{limit.test} needs must = "{_ANSWERS[limit.test]}"'
    if limit.half_cut_out and not limit.at_least:
        yield ("half_cut_out",), "needs at_least, the pressure it may be less than"


def _pairs(limit: Limit) -> Iterator[tuple[tuple[str, ...], str]]:
    """A pressure without a figure, and pairs that can't be the same pressure (more than 3 % and 1 kPa apart)."""
    for field in ("at_least", "at_most", "less_than", "clear_fail", "rise_from", "rise_to"):
        pressure: Pressure | None = getattr(limit, field)
        if pressure is None:
            continue
        if pressure.psi is None and pressure.kpa is None:
            yield (_key(field),), "needs psi, kPa or both"
        if pressure.psi is not None and pressure.kpa is not None:
            apart = abs(pressure.psi * float(KPA_PER_PSI) - pressure.kpa)
            if apart > max(1.0, 0.03 * pressure.kpa):
                kpa = round(pressure.psi * float(KPA_PER_PSI), 1)
                yield (_key(field),), f"{pressure.psi:g} psi are {kpa} kPa, not {pressure.kpa:g}"


def _key(field: str) -> str:
    return {"rise_from": "from", "rise_to": "to"}.get(field, field)


def _overlap(one: Limit, other: Limit) -> bool:
    return (
        one.test == other.test
        and one.needs == other.needs
        and bool(set(one.vehicles or _EVERY_CLASS) & set(other.vehicles or _EVERY_CLASS))
        and bool(set(one.built or _EVERY_DATE) & set(other.built or _EVERY_DATE))
    )
