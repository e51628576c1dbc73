"""A fleet of invented vehicles and its session logs over months, made quickly: a few checks, and many copies of them
with another day and vehicle, each with a right chain."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path

from assistant.core.numbers import spoken
from tests.log_sample import chained, log_of
from tests.walk import WHOLE, Walk

FIRST_DAY = datetime(2026, 1, 5, 6, 40, tzinfo=timezone(timedelta(hours=-5)))
_LAST = "primary one ten secondary one oh nine"  # of the applied hold, which began at 112 and 110
_HASH = re.compile(rb',"hash":"[0-9a-f]{64}"}$')
_LINK = re.compile(r'"(prev|head)":"[0-9a-f]{64}"')


@cache
def _bodies(loss: float, folder: Path) -> tuple[str, ...]:
    """The lines of a check in which the primary needle lost `loss` psi with the brakes applied, without their links."""
    last = f"primary {spoken(112 - loss)} secondary one oh nine"
    walk = Walk(*(last if phrase == _LAST else phrase for phrase in WHOLE))
    log = log_of(walk, folder / f"pattern-{loss}.jsonl")
    lines = log.read_bytes().splitlines()
    log.unlink()
    return tuple(_LINK.sub(r'"\1":"PREV"', _HASH.sub(b"", line).decode()) for line in lines)


def put_check(
    folder: Path, vehicle: str, day: int, loss: float, driver: str = "Robin Example", mode: str = "typed"
) -> Path:
    """One log in `folder`. `day`: after the first one."""
    first, *rest = _bodies(loss, folder)
    header = json.loads(first + "}")
    header["created"] = (FIRST_DAY + timedelta(days=day)).isoformat(timespec="milliseconds")
    header["mode"] = mode
    header["setup"] |= {"fleet_number": vehicle, "driver": driver}
    path = folder / f"{header['created'][:10]}_{vehicle}.jsonl"
    path.write_bytes(chained([json.dumps(header, separators=(",", ":")).removesuffix("}"), *rest]))
    return path


def put_fleet(folder: Path, vehicles: int, days: int) -> Iterator[Path]:
    """A check of each vehicle on each day. In vehicle 3 of 20 a leak grows, from 1 to 4 psi over the time; in the
    others the loss goes up and down."""
    folder.mkdir(parents=True, exist_ok=True)
    for day in range(days):
        for number in range(vehicles):
            steady = 1 + (day * 7 + number * 3) % 5 / 2
            growing = 1 + round(3 * day / max(1, days - 1) * 2) / 2
            loss = growing if number % 20 == 3 else steady
            yield put_check(folder, f"T-{1000 + number}", day, loss, driver=f"Driver {number % 7}")
