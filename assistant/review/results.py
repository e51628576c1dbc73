"""The results of a check as one record: the published format of `gladhand report --json` and `--csv`.

Law: verdicts, limits and sources are those that stand in the log, as far as what happened in it comes to the same
again; the readings are those that come out again. Fields are only ever added; `Results` gives the JSON
schema.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from assistant import __version__
from assistant.core.causes import causes
from assistant.core.dialogue import Dialogue
from assistant.core.events import (
    Judged,
    Line,
    Outcome,
    Reading,
    Record,
    Say,
    Take,
    TestId,
    Unit,
    Vehicle,
    Verdict,
)
from assistant.core.plan import Plan
from assistant.core.prompts import asks_again
from assistant.log import Entry
from assistant.review.examined import Examined, Integrity
from assistant.review.standing import observed, standing_verdicts, why_none
from assistant.review.story import Wording
from assistant.review.written import compared, written_verdicts


class Result(Record):
    """One test. `readings` by slot (see events.Observation). `value`: what was compared with the limit, in `unit`:
    a pressure, a loss, or seconds. `judged_at_ms`: time in the check, None when it was never judged.
    `written`: the outcome in the log where what happened in it does not come to it, so that it does not stand; the
    outcome is then "not judged"."""

    test: TestId
    name: str
    outcome: Outcome
    reason: str
    reason_id: str
    limit: str
    source: str
    margin: float | None
    unit: str | None
    value: float | None
    needle: str | None
    readings: dict[str, tuple[Reading, ...]]
    seconds: float | None
    notes: tuple[str, ...]
    consequence: str | None
    causes: tuple[str, ...]
    asked_again: int
    corrections: int
    judged_at_ms: int | None
    written: Outcome | None = None


class About(Record):
    """The standard as it is now: its text is not in the log, only its fingerprint."""

    id: str
    title: str
    edition: str
    date: str
    kind: str
    meaning: str


class Results(Record):
    """One check. `created`, `ended`: wall time, RFC 3339. `lasted_s`: in the time of the check. `complete`: every
    test has its verdict."""

    format: Literal["gladhand results 1"] = "gladhand results 1"
    log: str
    created: str
    ended: str | None
    lasted_s: float
    mode: str
    program: str
    reported_by: str
    driver: str | None
    fleet_number: str | None
    route: str | None
    vehicle: Vehicle
    spoken_unit: Unit
    standard: About
    complete: bool
    tests: tuple[Result, ...]
    integrity: Integrity

    def counted(self, outcome: Outcome) -> int:
        return sum(result.outcome == outcome for result in self.tests)


def results(seen: Examined, wording: Wording) -> Results:
    """What the log under examination says of its check."""
    header, entries = seen.session.header, seen.session.entries
    setup, standard = header.setup, seen.dialogue.standard
    written = written_verdicts(entries)
    verdicts = standing_verdicts(written, seen.state, changed=bool(seen.integrity.changed_since))
    tests = tuple(_result(test.id, seen, written.get(test.id), verdicts, wording) for test in seen.dialogue.plan.tests)
    about = standard.model_dump(include=set(About.model_fields))
    return Results(
        log=seen.path.name,
        created=header.created,
        ended=entries[-1].wall if entries else None,
        lasted_s=entries[-1].t_ms / 1000 if entries else 0.0,
        mode=header.mode,
        program=header.program,
        reported_by=f"gladhand {__version__}",
        driver=setup.driver,
        fleet_number=setup.fleet_number,
        route=setup.route,
        vehicle=setup.vehicle,
        spoken_unit=setup.unit,
        standard=About.model_validate(about),
        complete=_complete(seen.dialogue, verdicts),
        tests=tests,
        integrity=seen.integrity,
    )


def _complete(dialogue: Dialogue, verdicts: Mapping[TestId, Verdict]) -> bool:
    plan: Plan = dialogue.plan
    return all(test.id in verdicts for test in plan.tests)


def _result(
    test: TestId, seen: Examined, written: Verdict | None, standing: Mapping[TestId, Verdict], wording: Wording
) -> Result:
    entries, recomputes = seen.session.entries, seen.integrity.difference is None
    verdict, again = standing.get(test), seen.state.verdicts.get(test)
    shown = verdict or written  # of one that does not stand: what it was about
    taken = observed(test, seen.dialogue, seen.state)
    value, seconds = compared(verdict)
    return Result(
        test=test,
        name=wording.name(test),
        outcome=verdict.outcome if verdict else "not judged",
        reason=wording.full(verdict.reason) if verdict else why_none(written, again, recomputes=recomputes),
        reason_id=verdict.reason.prompt if verdict else "",
        limit=shown.limit if shown else "",
        source=shown.source if shown else "",
        margin=verdict.margin if verdict else None,
        unit=verdict.unit if verdict else None,
        value=value,
        needle=verdict.needle if verdict else None,
        readings={slot: values for slot, values in taken.readings.items() if values},
        seconds=taken.seconds if seconds is None else seconds,
        notes=tuple(map(wording.full, verdict.notes)) if verdict else (),
        consequence=_consequence(verdict, wording),
        causes=tuple(map(wording.full, causes(verdict, standing))) if verdict else (),
        asked_again=_asked_again(test, entries),
        corrections=sum(take.replaces for take in _takes(test, entries)),
        judged_at_ms=_judged_at(test, entries) if verdict else None,
        written=written.outcome if written and not verdict and not recomputes else None,
    )


def _takes(test: TestId, entries: Iterable[Entry]) -> list[Take]:
    return [effect for entry in entries for effect in entry.effects if isinstance(effect, Take) and effect.test == test]


def _consequence(verdict: Verdict | None, wording: Wording) -> str | None:
    if verdict is None or verdict.consequence is None:
        return None
    return wording.full(Line(prompt=f"consequence.{verdict.consequence}"))


def _judged_at(test: TestId, entries: Iterable[Entry]) -> int | None:
    at = [e.t_ms for e in entries for effect in e.effects if isinstance(effect, Judged) and effect.verdict.test == test]
    return at[-1] if at else None


def _asked_again(test: TestId, entries: Iterable[Entry]) -> int:
    """How often the driver was asked again before this test was judged, and after the one before it."""
    count = found = 0
    for entry in entries:
        lines = [line for effect in entry.effects if isinstance(effect, Say) for line in effect.lines]
        judged = [effect.verdict.test for effect in entry.effects if isinstance(effect, Judged)]
        if judged:
            found += count if test in judged else 0
            count = 0
        count += any(map(asks_again, lines))
    return found
