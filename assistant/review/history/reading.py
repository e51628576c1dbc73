"""What the history keeps of one session log.

Law: the chain of every log is checked, byte by byte; a log that does not hold gives its fault and nothing else. A check
that did not come to its end may have a test that was begun again: only such a check is computed again.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.events import Close, Outcome, Record, Say, Setup, Take, TestId, Unit, Verdict
from assistant.core.interval import exact
from assistant.core.pressure import convert
from assistant.core.prompts import asks_again
from assistant.core.trouble import LogTrouble, Trouble
from assistant.log import Session, read, wall_time
from assistant.review.history.trainee import Recited, recited
from assistant.review.replay import recompute
from assistant.review.written import compared, written_verdicts

if TYPE_CHECKING:  # most logs are not computed again
    from assistant.core.dialogue import Dialogue

Making = Callable[[Setup], "Dialogue"]


class Found(Record):
    """One test of one check. `value` and `margin` in `unit`, psi or s, so that they can be compared over the years."""

    test: TestId
    outcome: Outcome
    value: float | None
    margin: float | None
    unit: str | None
    limit: str
    reason: str


class Check(Record):
    """One check. `created`: RFC 3339 as in the log; `day`: days since 1970 in UTC, for trends. `mode`: as in the log,
    or "recital": a talk-through, which is no check. `recited`: its marks, None without a debrief."""

    log: str
    created: str
    day: float
    driver: str | None
    fleet_number: str | None
    vehicle_class: str
    standard: str
    mode: str
    head: str
    sealed: bool
    asked_again: int
    corrections: int
    tests: tuple[Found, ...]
    recited: Recited | None = None

    def counted(self, outcome: Outcome) -> int:
        return sum(found.outcome == outcome for found in self.tests)


class Damaged(Record):
    """A file that is no whole session log, and why."""

    log: str
    why: str


def look(folder: Path, name: str, making: Making) -> Check | Damaged:
    """The log `name` in `folder`. `making`: the dialogue of a setup. Raises nothing: what is wrong is told in the
    result."""
    try:
        return _check(read(folder / name), name, making)
    except LogTrouble as trouble:
        return Damaged(log=name, why=str(trouble))
    except Trouble as trouble:  # for example its standard is no longer there
        return Damaged(log=name, why=f"{name} can't be computed again: {trouble}")


def _check(kept: Session, name: str, making: Making) -> Check:
    setup, created = kept.header.setup, wall_time(kept.header.created)
    effects = [effect for entry in kept.entries for effect in entry.effects]
    turns = [effect.lines for effect in effects if isinstance(effect, Say)]
    verdicts = written_verdicts(kept.entries)
    if setup.recital is None and Close(complete=True) not in effects:
        state, _ = recompute(making(setup), kept.entries)
        verdicts = {test: verdict for test, verdict in verdicts.items() if test in state.verdicts}
    return Check(
        log=name,
        created=kept.header.created,
        day=created.astimezone(UTC).timestamp() / 86_400,
        driver=setup.driver,
        fleet_number=setup.fleet_number,
        vehicle_class=setup.vehicle.vehicle_class,
        standard=setup.standard,
        mode="recital" if setup.recital else kept.header.mode,
        head=kept.head,
        sealed=kept.sealed,
        asked_again=sum(any(map(asks_again, lines)) for lines in turns),
        corrections=sum(isinstance(effect, Take) and effect.replaces for effect in effects),
        tests=tuple(_found(verdict) for verdict in verdicts.values()),
        recited=recited(effects) if setup.recital else None,
    )


def _found(verdict: Verdict) -> Found:
    value, _ = compared(verdict)
    unit = "psi" if verdict.unit == "kPa" else verdict.unit
    return Found(
        test=verdict.test,
        outcome=verdict.outcome,
        value=_in(verdict.unit, value),
        margin=_in(verdict.unit, verdict.margin),
        unit=unit,
        limit=verdict.limit,
        reason=verdict.reason.prompt,
    )


def _in(unit: str | None, value: float | None) -> float | None:
    """Kilopascals in psi; everything else as it is."""
    if value is None or unit != "kPa":
        return value
    source: Unit = "kPa"
    return round(float(convert(exact(value), source, "psi")), 3)
