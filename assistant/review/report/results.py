"""The results of one session log: its verdicts with what they rest on, and how far the log can be believed.

Law: the verdicts and readings are those that were recorded. The check is computed again only to know which of them
still stood at the end, and whether they come out the same; a difference is told, never smoothed over.
The JSON schema of `Results` is the published format of `gladhand report --json`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal, TypeVar

from pydantic import Field

from assistant.core.causes import causes
from assistant.core.dialogue import Dialogue, State
from assistant.core.events import (
    Close,
    Device,
    Heard,
    Judged,
    Line,
    Observation,
    Outcome,
    Reading,
    Record,
    Say,
    Setup,
    Take,
    TestId,
    Verdict,
)
from assistant.core.prompts import Prompts
from assistant.log import Entry, Session
from assistant.review.replay import Difference, fold

_ASKED_AGAIN = ("again.", "odd.")


class Finding(Record):
    """One test. `readings` by slot: "at", or "first" and "last" of a hold, or "from" and "to" of a rise; `seconds`: of
    the hold or rise. `outcome` None: the check ended before it. `at_ms`: when it was judged, in ms of the check."""

    test: TestId
    name: str
    outcome: Outcome | None
    reason: str = ""
    limit: str = ""
    margin: float | None = None
    unit: str | None = None
    needle: str | None = None
    source: str = ""
    consequence: str | None = None
    notes: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    readings: dict[str, tuple[Reading, ...]] = {}
    seconds: float | None = None
    answers: dict[str, str] = {}
    at_ms: int | None = None
    judged_times: int = 0


class StandardUsed(Record):
    id: str
    title: str
    edition: str
    date: str
    kind: str
    meaning: str


class Trust(Record):
    """How far the log can be believed. `chain`: every byte is the one that was written, up to the end or up to the
    fault. `recomputed`: the same events give the same verdicts; None: not computed. `sounds_missing`, `sounds_changed`:
    kept utterances that are not there, or are not those of the log. `head`: eight digits to compare with a copy kept
    elsewhere. `faults`: each in a sentence."""

    chain: bool
    recomputed: bool | None
    sealed: bool
    head: str
    sounds_kept: int = 0
    sounds_missing: int = 0
    sounds_changed: int = 0
    faults: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        return self.chain and self.recomputed is True and self.sealed and not self.sounds_changed


class Results(Record):
    """One check. `complete`: every test of its plan has a verdict. Times of day with their offset from UTC."""

    format: Literal["gladhand results 1"] = "gladhand results 1"
    log: str
    began: str
    ended: str
    mode: str
    setup: Setup
    standard: StandardUsed
    findings: tuple[Finding, ...]
    complete: bool
    asked_again: int = Field(description="How often something was asked again.")
    corrections: int = Field(description="How often a reading was corrected or taken back.")
    devices_lost: tuple[str, ...] = ()
    trust: Trust

    def with_outcome(self, outcome: Outcome | None) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.outcome == outcome)


def results(
    log: str, session: Session, dialogue: Dialogue, prompts: Prompts, trust: Callable[[bool | None, str], Trust]
) -> Results:
    """What a log holds. `trust`: makes the judgement of the file from whether its verdicts came out the same, and the
    sentence of the difference. Raises LogTrouble for a log without a check in it."""
    recomputed, difference = True, ""
    try:
        state = fold(dialogue, session.entries)
    except Difference as fault:
        recomputed, difference = False, str(fault)
        state = fold(dialogue, session.entries, compare=False)
    entries, standard = session.entries, dialogue.standard
    events = [entry.event for entry in entries]
    lines = [line.prompt for say in _effects(entries, Say) for line in say.lines]
    return Results(
        log=log,
        began=entries[0].wall,
        ended=entries[-1].wall,
        mode=session.header.mode,
        setup=session.header.setup,
        standard=StandardUsed.model_validate(
            standard.model_dump(include={"id", "title", "edition", "date", "kind", "meaning"})
        ),
        findings=_findings(entries, dialogue, state, prompts),
        complete=any(close.complete for close in _effects(entries, Close)),
        asked_again=sum(prompt.startswith(_ASKED_AGAIN) for prompt in lines),
        corrections=sum(take.replaces for take in _effects(entries, Take)),
        devices_lost=tuple(one.device for one in events if isinstance(one, Device) and one.state == "lost"),
        trust=trust(recomputed, difference),
    )


def sounds_of(session: Session) -> dict[int, str]:
    """The SHA-256 of each utterance whose sound was kept, by the time in ms at which it was begun."""
    heard = (entry.event for entry in session.entries if isinstance(entry.event, Heard))
    return {one.start_ms: one.sound for one in heard if one.sound}


E = TypeVar("E", Judged, Say, Take, Close)


def _effects(entries: tuple[Entry, ...], kind: type[E]) -> list[E]:
    return [effect for entry in entries for effect in entry.effects if isinstance(effect, kind)]


def _findings(entries: tuple[Entry, ...], dialogue: Dialogue, state: State, prompts: Prompts) -> tuple[Finding, ...]:
    recorded = {
        effect.verdict.test: (entry.t_ms, effect.verdict)
        for entry in entries
        for effect in entry.effects
        if isinstance(effect, Judged)
    }
    times = [judged.verdict.test for judged in _effects(entries, Judged)]
    verdicts = {test: verdict for test, (_, verdict) in recorded.items() if test in state.verdicts}
    found = []
    for test in dialogue.plan.tests:
        name = _capital(prompts.full(Line(prompt=f"test.{test.id}")))
        if test.id not in verdicts:
            found.append(Finding(test=test.id, name=name, outcome=None, judged_times=times.count(test.id)))
            continue
        seen = state.observations.get(test.id, Observation(test=test.id))
        made = _finding(name, verdicts[test.id], verdicts, seen, prompts)
        found.append(made.model_copy(update={"at_ms": recorded[test.id][0], "judged_times": times.count(test.id)}))
    return tuple(found)


def _finding(
    name: str, verdict: Verdict, verdicts: Mapping[TestId, Verdict], seen: Observation, prompts: Prompts
) -> Finding:
    return Finding(
        test=verdict.test,
        name=name,
        outcome=verdict.outcome,
        reason=prompts.full(verdict.reason),
        limit=verdict.limit,
        margin=verdict.margin,
        unit=verdict.unit,
        needle=verdict.needle,
        source=verdict.source,
        consequence=prompts.full(Line(prompt=f"consequence.{verdict.consequence}")) if verdict.consequence else None,
        notes=tuple(map(prompts.full, verdict.notes)),
        causes=tuple(map(prompts.full, causes(verdict, verdicts))),
        readings=seen.readings,
        seconds=seen.seconds,
        answers=seen.answers,
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
