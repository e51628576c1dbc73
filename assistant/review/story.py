"""A check in reading order: what was said, heard, taken and judged, one moment after the other.

Law: nothing is left out of what was heard; a moment belongs to the test whose verdict came next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from assistant.core.events import (
    Begun,
    Device,
    Effect,
    Ended,
    Event,
    Heard,
    Judged,
    Line,
    Reading,
    Resumed,
    Say,
    Take,
    TestId,
    Verdict,
)
from assistant.core.hearing import mends_itself
from assistant.core.language import Language
from assistant.core.prompts import Prompts, asks_again
from assistant.core.trouble import Trouble
from assistant.log import Entry

Who = Literal["gladhand", "driver", "reading", "verdict", "device"]
NEAR_NATS = 12.0
"""Rivals further behind than this are not worth a look (own choice: twice what a doubtful number needs)."""


@dataclass(frozen=True)
class Moment:
    """`text`: as it is shown. `test`: None after the last verdict. `heard`: the evidence, for what the driver said.
    `answered`: something came of it. `again`: the driver was asked again. `replaces`: a correction of a reading;
    `mends`: of a number before it was taken, in one breath. `spoken`: the text as a voice says it."""

    at_ms: int
    who: Who
    text: str
    test: TestId | None = None
    heard: Heard | None = None
    verdict: Verdict | None = None
    answered: bool = True
    again: bool = False
    replaces: bool = False
    mends: bool = False
    spoken: str = ""


class Wording:
    """How lines and words are shown. `language`: what was heard in it; None where it is shown as it was heard."""

    def __init__(self, prompts: Prompts, language: Language | None = None) -> None:
        self._prompts, self._language = prompts, language

    def written(self, text: str) -> str:
        """What was heard, as it is written."""
        return text if self._language is None else self._language.written(text)

    def mends_itself(self, text: str) -> bool:
        """Whether a number of it is corrected in the same breath."""
        return self._language is not None and mends_itself(text, self._language)

    def full(self, line: Line) -> str:
        """The sentence alone."""
        return self._safe(self._prompts.full, line)

    def name(self, test: TestId) -> str:
        """What a test is called."""
        return self.full(Line(prompt=f"test.{test}"))

    def turn(self, lines: Iterable[Line]) -> str:
        """Several sentences, as they are said after each other."""
        return self._joined(self._prompts.shown, lines)

    def spoken(self, lines: Iterable[Line]) -> str:
        """The same as words for a voice."""
        return self._joined(self._prompts.spoken, lines)

    def _joined(self, form: Callable[[Line], str], lines: Iterable[Line]) -> str:
        return " ".join(filter(None, (self._safe(form, line) for line in lines)))

    def _safe(self, form: Callable[[Line], str], line: Line) -> str:
        """Of a log whose wording is no longer there, the name of the prompt."""
        try:
            return form(line)
        except Trouble:
            return f"({line.prompt})"


def tell(entries: Sequence[Entry], wording: Wording) -> tuple[Moment, ...]:
    """Every moment of a check, each with the test that it belongs to; in a recital all that was said counts."""
    told: list[Moment] = []
    open_since = 0
    recital = any(isinstance(entry.event, Begun) and entry.event.setup.recital for entry in entries)
    for entry in entries:
        told += (_counts(one, wording) if recital else one for one in _moments(entry, wording))
        judged = [effect.verdict.test for effect in entry.effects if isinstance(effect, Judged)]
        if judged:
            told[-1] = _belongs(told[-1], judged[-1])  # what was said of them all
            told[open_since:] = [_belongs(moment, judged[0]) for moment in told[open_since:]]
            open_since = len(told)
    return tuple(told)


def _counts(moment: Moment, wording: Wording) -> Moment:
    """A moment of a recital: nobody answers, and what was said is what was heard freely."""
    text = moment.text if moment.heard is None else wording.written(moment.heard.said(freely=True))
    return replace(moment, answered=True, text=text)


def doubts(moment: Moment) -> list[str]:
    """What speaks for another hearing of an utterance: the free decode, near rivals, lost samples, noise."""
    heard = moment.heard
    if heard is None:
        return []
    found = []
    if heard.open_text and heard.open_text not in (heard.text, moment.text):
        found.append(f'freely heard: "{heard.open_text}"')
    near = [rival for rival in heard.rivals if rival.behind < NEAR_NATS and rival.text != heard.text]
    found += [f'or "{rival.text or "talk"}", {rival.behind:.1f} nats behind' for rival in near[:3]]
    if heard.gap:
        found.append("a part of the sound was lost")
    if heard.snr_db is not None:
        found.append(f"{heard.snr_db:.0f} dB above the noise")
    return found


def readings(values: Iterable[Reading]) -> str:
    """Readings in one phrase: "primary 118 psi, secondary 116 psi"."""
    return ", ".join(_reading(value) for value in values)


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


def _reading(value: Reading) -> str:
    needle = f"{value.needle} " if value.needle else ""
    give = f" give or take {value.within:g}" if value.within else ""
    return f"{needle}{value.value:g} {value.unit}{give}"


def _belongs(moment: Moment, test: TestId) -> Moment:
    return moment if moment.test else replace(moment, test=test)


def _moments(entry: Entry, wording: Wording) -> Iterator[Moment]:
    yield from _event(entry.t_ms, entry.event, entry.effects, wording)
    for effect in entry.effects:
        if isinstance(effect, Take):
            text = readings(effect.readings) or "taken back"
            replaced = effect.replaces and bool(effect.readings)
            shown = f"corrected to {text}" if replaced else text
            yield Moment(entry.t_ms, "reading", shown, test=effect.test, replaces=effect.replaces)
        elif isinstance(effect, Judged):
            verdict = effect.verdict
            text = f"{wording.name(verdict.test)}: {wording.full(verdict.reason)}"
            yield Moment(entry.t_ms, "verdict", text, test=verdict.test, verdict=verdict)
    for effect in entry.effects:
        if isinstance(effect, Say):
            again = any(map(asks_again, effect.lines))
            text, aloud = wording.turn(effect.lines), wording.spoken(effect.lines)
            yield Moment(entry.t_ms, "gladhand", text, again=again, spoken=aloud)


def _event(at_ms: int, event: Event, effects: tuple[Effect, ...], wording: Wording) -> Iterator[Moment]:
    if isinstance(event, Heard):
        text = wording.written(event.said())
        mends = any(isinstance(effect, Take) for effect in effects) and wording.mends_itself(event.said())
        yield Moment(event.end_ms, "driver", text, heard=event, answered=bool(effects), mends=mends)
    elif isinstance(event, Device):
        yield Moment(at_ms, "device", f"{event.device} {event.state}. {event.detail}".strip())
    elif isinstance(event, Resumed):
        yield Moment(at_ms, "device", "The check goes on after an interruption.")
    elif isinstance(event, Ended):
        yield Moment(at_ms, "device", f"No more will come: {event.why}.")
