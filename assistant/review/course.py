"""The course of a check as rows to read: who, when, what, and the evidence behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal

from assistant.core.dialogue import Dialogue
from assistant.core.events import (
    Device,
    Effect,
    Event,
    Heard,
    Judged,
    Line,
    Reading,
    Record,
    Resumed,
    Say,
    Take,
    TestId,
    Verdict,
)
from assistant.core.prompts import Prompts
from assistant.log import Entry
from assistant.review.replay import places

Who = Literal["driver", "gladhand", "record", "verdict", "device"]
_RIVALS_SHOWN = 3


class Row(Record):
    """`at_ms`: in the check. `test`: the one that was open. `evidence`: what the recogniser had besides, or what a
    verdict rests on. `ignored`: it was taken for talk. `sound`: SHA-256 of the kept utterance. `outcome`: of a
    verdict."""

    at_ms: int
    test: TestId
    who: Who
    text: str
    evidence: tuple[str, ...] = ()
    ignored: bool = False
    sound: str | None = None
    outcome: str | None = None


def rows(
    dialogue: Dialogue, entries: tuple[Entry, ...], prompts: Prompts, written: Callable[[str], str]
) -> tuple[Row, ...]:
    """All that was heard, taken, judged and said, in order. `written`: how a heard text is spelled."""
    tests = [test.id for test in dialogue.plan.tests]
    open_at = [tests[min(place, len(tests) - 1)] for place in places(dialogue, entries)]
    return tuple(
        row for entry, test in zip(entries, open_at, strict=True) for row in _of(entry, test, prompts, written)
    )


def _of(entry: Entry, test: TestId, prompts: Prompts, written: Callable[[str], str]) -> Iterator[Row]:
    yield from _event(entry.t_ms, test, entry.event, bool(entry.effects), written)
    for effect in entry.effects:
        yield from _effect(entry.t_ms, test, effect, prompts)


def _event(at_ms: int, test: TestId, event: Event, answered: bool, written: Callable[[str], str]) -> Iterator[Row]:
    if isinstance(event, Heard):
        text = written(event.text or event.open_text or "(no words)")
        yield Row(
            at_ms=event.start_ms,
            test=test,
            who="driver",
            text=text,
            evidence=tuple(_evidence(event, written)),
            ignored=not answered,
            sound=event.sound,
        )
    elif isinstance(event, Device):
        yield Row(at_ms=at_ms, test=test, who="device", text=f"{event.device} {event.state}. {event.detail}".strip())
    elif isinstance(event, Resumed):
        yield Row(at_ms=at_ms, test=test, who="device", text="The check went on after an interruption.")


def _evidence(heard: Heard, written: Callable[[str], str]) -> Iterator[str]:
    if heard.by == "typed":
        yield "typed"
    if heard.open_text and heard.open_text != heard.text:
        yield f"in free words: {heard.open_text}"
    for rival in heard.rivals[:_RIVALS_SHOWN]:
        yield f"or: {written(rival.text) or '(talk)'} ({rival.behind:.1f} nats behind)"
    if heard.snr_db is not None:
        yield f"{heard.snr_db:.0f} dB above the noise"
    if heard.gap:
        yield "sound was lost in it"


def _effect(at_ms: int, test: TestId, effect: Effect, prompts: Prompts) -> Iterator[Row]:
    if isinstance(effect, Take):
        what = "corrected" if effect.replaces else "taken"
        text = shown(effect.readings) if effect.readings else "taken back"
        yield Row(at_ms=at_ms, test=effect.test, who="record", text=f"{text} ({what} for {effect.test}, {effect.slot})")
    elif isinstance(effect, Judged):
        verdict = effect.verdict
        name = prompts.full(Line(prompt=f"test.{verdict.test}"))
        yield Row(
            at_ms=at_ms,
            test=verdict.test,
            who="verdict",
            text=f"{name}: {verdict.outcome}. {prompts.full(verdict.reason)}",
            evidence=basis(verdict),
            outcome=verdict.outcome,
        )
    elif isinstance(effect, Say):
        yield Row(at_ms=at_ms, test=test, who="gladhand", text=" ".join(filter(None, map(prompts.shown, effect.lines))))


def basis(verdict: Verdict) -> tuple[str, ...]:
    """Limit, margin and source."""
    margin = "" if verdict.margin is None else f"margin: {verdict.margin:+g} {verdict.unit or ''}".strip()
    return tuple(part for part in (f"limit: {verdict.limit}", margin, f"source: {verdict.source}") if part)


def shown(readings: tuple[Reading, ...]) -> str:
    """Needles and values: "primary 118, secondary 116 psi"."""
    parts = [f"{one.needle or ''} {value_text(one)}".strip() for one in readings]
    return f"{', '.join(parts)} {readings[-1].unit}"


def value_text(reading: Reading) -> str:
    """The number, with how far it may be off where a range was spoken."""
    about = f" ± {reading.within:g}" if reading.within else ""
    return f"{reading.value:g}{about}"
