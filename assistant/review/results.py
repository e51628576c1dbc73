"""The results of a check as one record: the published format of `gladhand report --json` and `--csv`.

Law: verdicts, limits and sources are those that stand in the log. Fields are only ever added; `Results` gives the JSON
schema.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from assistant import __version__
from assistant.core.causes import causes
from assistant.core.dialogue import Dialogue, State
from assistant.core.events import Judged, Line, Outcome, Reading, Record, Say, Take, TestId, Vehicle, Verdict
from assistant.core.plan import Plan
from assistant.core.prompts import asks_again
from assistant.log import Entry
from assistant.review.examined import Examined, Integrity
from assistant.review.story import Wording, readings


class Result(Record):
    """One test. `readings` by slot (see events.Observation). `value`: what was compared with the limit, in `unit`:
    a pressure, a loss, or seconds. `judged_at_ms`: time in the check, None when it was never judged."""

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
    spoken_unit: str
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
    verdicts = written_verdicts(entries, seen.state)
    tests = tuple(_result(test.id, entries, verdicts, wording) for test in seen.dialogue.plan.tests)
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


def written_verdicts(entries: Iterable[Entry], state: State | None) -> dict[TestId, Verdict]:
    """The last verdict on each test in the log. `state`: that of the recomputation; a test that was opened again and
    not finished has none there."""
    last = {
        effect.verdict.test: effect.verdict
        for entry in entries
        for effect in entry.effects
        if isinstance(effect, Judged)
    }
    return {test: verdict for test, verdict in last.items() if state is None or test in state.verdicts}


def spelled(slots: Mapping[str, tuple[Reading, ...]]) -> str:
    """The readings that were judged in one phrase; of a hold, where each needle went."""
    if "first" not in slots:
        return readings(slots.get("at", ()))
    ends = {reading.needle: reading for reading in slots.get("last", ())}
    parts = [
        f"{readings((start,))} to {ends[start.needle].value:g}" if start.needle in ends else readings((start,))
        for start in slots["first"]
    ]
    return ", ".join(parts)


def _complete(dialogue: Dialogue, verdicts: Mapping[TestId, Verdict]) -> bool:
    plan: Plan = dialogue.plan
    return all(test.id in verdicts for test in plan.tests)


def _result(test: TestId, entries: tuple[Entry, ...], verdicts: Mapping[TestId, Verdict], wording: Wording) -> Result:
    taken = _readings(test, entries)
    verdict = verdicts.get(test)
    value, seconds = compared(verdict)
    if verdict is not None and seconds is None:
        seconds = _held(taken)
    return Result(
        test=test,
        name=wording.name(test),
        outcome=verdict.outcome if verdict else "not judged",
        reason=wording.full(verdict.reason) if verdict else "The check ended before this test.",
        reason_id=verdict.reason.prompt if verdict else "",
        limit=verdict.limit if verdict else "",
        source=verdict.source if verdict else "",
        margin=verdict.margin if verdict else None,
        unit=verdict.unit if verdict else None,
        value=value,
        needle=verdict.needle if verdict else None,
        readings=taken,
        seconds=seconds,
        notes=tuple(map(wording.full, verdict.notes)) if verdict else (),
        consequence=_consequence(verdict, wording),
        causes=tuple(map(wording.full, causes(verdict, verdicts))) if verdict else (),
        asked_again=_asked_again(test, entries),
        corrections=sum(take.replaces for _, take in _takes(test, entries)),
        judged_at_ms=_judged_at(test, entries) if verdict else None,
    )


def _takes(test: TestId, entries: Iterable[Entry]) -> list[tuple[int, Take]]:
    return [
        (entry.t_ms, effect)
        for entry in entries
        for effect in entry.effects
        if isinstance(effect, Take) and effect.test == test
    ]


def _readings(test: TestId, entries: Iterable[Entry]) -> dict[str, tuple[Reading, ...]]:
    """The readings that count in the end: a test that was begun again drops what it had."""
    kept: dict[str, tuple[Reading, ...]] = {}
    for _, take in _takes(test, entries):
        opens = take.slot in ("first", "at", "below") and not take.replaces
        if opens and len(take.readings) <= len(kept.get(take.slot, ())):
            kept = {}
        kept[take.slot] = take.readings
    return {slot: values for slot, values in kept.items() if values}


def compared(verdict: Verdict | None) -> tuple[float | None, float | None]:
    """What was compared with the limit, and the seconds of a rise, both from the values of the verdict's reason."""
    if verdict is None:
        return None, None
    values = verdict.reason.values
    seconds = values.get("seconds")
    timed = float(seconds) if isinstance(seconds, int | float) else None
    read = values.get("loss") or values.get("at")
    if isinstance(read, tuple) and read:
        return read[0].value, timed
    return timed if verdict.unit == "s" else None, timed


def _held(taken: Mapping[str, tuple[Reading, ...]]) -> float | None:
    """Seconds of a hold: from the last of the first readings to the first of the last."""
    began = [reading.at_ms for reading in taken.get("first", ()) if reading.at_ms is not None]
    ended = [reading.at_ms for reading in taken.get("last", ()) if reading.at_ms is not None]
    return (min(ended) - max(began)) / 1000 if began and ended else None


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
