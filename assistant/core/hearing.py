"""What was heard, and what it means: a reading, an answer, a report, a command, or unclear with the reason.

Law: the meaning comes from the language alone. A number is taken as it was spoken or not at all: never the nearest one,
never converted into range, never chosen among several. The limit and the expected value are unknown here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Final, Literal

from assistant.core.doubt import HARMLESS, Contender, Doubt, doubt, is_beaten, may_be_meant
from assistant.core.events import Heard, Needle, Reading, Record, Unit
from assistant.core.language import NUMBER, Language
from assistant.core.numbers import from_figures
from assistant.core.sense import Sense, sense

Kind = Literal["reading", "answer", "report", "command", "unclear"]
Why = Literal["talk", "out of range", "two values for one needle", "unfinished", Doubt]

_TOKEN = re.compile(r"""(?:(?<!\S)-)?\d+(?:\.\d+)*|[^\W\d_]+(?:'[^\W\d_]+)*|[^\w\s.,;:!?"'()=-]""")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}\b)")
_KEPT = 1024
"""Texts whose words and senses are kept: drivers say the same few things over and over."""
_sense = lru_cache(maxsize=_KEPT)(sense)


ROUGHLY: Final[Mapping[Unit, float]] = {"psi": 2.5, "kPa": 20.0}
"""What "about ninety" may be off by: half of the usual distance between two marks. Common practice, no source."""


class Understood(Record):
    """The meaning of one utterance.

    `kind` says what it mainly is; a reading may bring reports with it. `correction`: it replaces an earlier reading.
    `takes_back`: an earlier reading is taken back and none given instead (kind "reading", no readings).
    `moments_ms`: when each of `reports` was begun, `moment_ms` the first of them, in ms of the check.
    `answer`: yes or no. `reason`: why a test is skipped; with "skip", or alone (kind "answer") as the answer to why.
    `why`: the reason for "unclear"; `candidates`: the readings that it may have been.
    """

    kind: Kind
    readings: tuple[Reading, ...] = ()
    correction: bool = False
    takes_back: bool = False
    reports: tuple[str, ...] = ()
    moments_ms: tuple[int, ...] = ()
    answer: Literal["yes", "no"] | None = None
    command: str | None = None
    reason: str | None = None
    why: Why | None = None
    candidates: tuple[Reading, ...] = ()

    @property
    def moment_ms(self) -> int | None:
        return self.moments_ms[0] if self.moments_ms else None


def understand(heard: Heard, language: Language, unit: Unit) -> Understood:
    """The meaning of `heard`. `unit`: how a number without a unit is taken."""
    tokens = tokens_of(heard.text)
    senses = _senses(tokens, language, unit)
    if not senses:
        rivals = _rivals(heard, language, unit, Sense())
        meant = tuple(rival.meaning for rival in rivals if may_be_meant(rival, heard.unlike))
        candidates = _all_readings(meant, heard)
        nothing = _why_nothing(heard, tokens, language)
        return Understood(kind="unclear", why="doubtful" if meant else nothing, candidates=candidates)
    best = senses[0]
    readings = _readings(best, heard)
    why = _why_not(best, readings)
    if any(_why_not(made, _readings(made, heard)) != why for made in senses[1:]):
        why = "doubtful"
    if why is not None or len(senses) > 1:
        return _told_why(why or "doubtful", senses, heard, language, unit)
    agreed: Sense | None = None
    if best.command not in HARMLESS:
        rivals = _rivals(heard, language, unit, best)
        agreed = _agreed(best, [rival.meaning for rival in rivals if not is_beaten(rival, best, heard.treated_snr_db)])
        why = doubt(heard, best, rivals if agreed is None else ())
        if why is not None:
            return Understood(
                kind="unclear", why=why, candidates=_all_readings((best, *(rival.meaning for rival in rivals)), heard)
            )
    return _understood(agreed or best, readings, heard)


def mends_itself(text: str, language: Language) -> bool:
    """Whether a number in it is replaced or taken back by what follows: "forty six correction thirty six"."""
    every = ([meant.tag for meant in meaning] for meaning in language.parse(tokens_of(text)))
    return any(NUMBER in tags and not {"repair", "withdrawn"}.isdisjoint(tags[tags.index(NUMBER) :]) for tags in every)


def _agreed(best: Sense, near: list[Sense]) -> Sense | None:
    """The numbers of `best`, where everything that is near it has just these: they are sure, though a report beside
    them ("the gauge settled ninety", "the gauge says ninety") is not. None where they don't agree."""
    alone = _numbers_alone(best)
    return alone if best.numbers and near and all(_numbers_alone(one).says == alone.says for one in near) else None


def _numbers_alone(made: Sense) -> Sense:
    return replace(made, reports=(), report_at=(), answer=None)


def _told_why(why: Why, senses: tuple[Sense, ...], heard: Heard, language: Language, unit: Unit) -> Understood:
    """What can't be taken as it stands. A number out of range that may well have been one in range ("one eighty" for
    "one eighteen") is a doubt, and those in range are its candidates."""
    if why == "out of range" and heard.by == "voice":
        rivals = _rivals(heard, language, unit, senses[0])
        in_range = [
            rival.meaning
            for rival in rivals
            if not is_beaten(rival, senses[0], heard.treated_snr_db)
            and rival.meaning.numbers
            and _why_not(rival.meaning, _readings(rival.meaning, heard)) is None
        ]
        if in_range:
            return Understood(kind="unclear", why="doubtful", candidates=_all_readings(in_range, heard))
    return Understood(kind="unclear", why=why, candidates=_all_readings(senses, heard))


@lru_cache(maxsize=_KEPT)
def tokens_of(text: str) -> tuple[str, ...]:
    """The words of a text, in small letters, without punctuation, typed figures spelled out. Two figures with nothing
    between them stay two: a mark that is in no language is put there, because "90 2" is not ninety two."""
    tokens: list[str] = []
    after_figures = False
    for token in _TOKEN.findall(_THOUSANDS.sub("", text.lower().replace("\u2019", "'"))):
        words = from_figures(token)
        if words is not None and after_figures:
            tokens.append("/")
        after_figures = words is not None
        tokens.extend(words or (token,))
    return tuple(tokens)


def says(text: str, language: Language, unit: Unit) -> tuple[tuple[object, ...], ...]:
    """All that a text may mean, the same of two texts that mean the same; () = nothing that is for the check."""
    return tuple(one.says for one in _senses(tokens_of(text), language, unit))


def _senses(tokens: tuple[str, ...], language: Language, unit: Unit) -> tuple[Sense, ...]:
    """Every distinct sense of the tokens. A value repeated in other words ("one five, fifteen") is one value, so a
    sense in which the numbers agree goes before others."""
    senses = [made for meaning in language.parse(tokens) if (made := _sense(meaning, tokens, unit)) is not None]
    if len(senses) < 2:
        return tuple(senses)
    found: dict[tuple[object, ...], Sense] = {}
    for made in senses:
        found.setdefault(made.says, made)
    agreeing = [made for made in found.values() if len(made.numbers) == 1]
    return tuple(agreeing if len(agreeing) == 1 else found.values())


def _why_nothing(heard: Heard, tokens: tuple[str, ...], language: Language) -> Why:
    """Why an utterance outside the language is unclear: it breaks off after something meant for us, or it is talk."""
    if heard.gap and tokens:
        return "gap"
    begun = {meant.tag for meant in language.begun(tokens)}
    return "unfinished" if begun & {NUMBER, "needle=primary", "needle=secondary", "needle=both", "repair"} else "talk"


def _why_not(best: Sense, readings: tuple[Reading, ...]) -> Why | None:
    """What is wrong with the only sense of an utterance, whatever the evidence for it."""
    if best.inexact or best.ambiguous:
        return "doubtful"
    if best.took_back:
        return "unfinished"
    if not best.on_the_scale:
        return "out of range"
    needles = [reading.needle for reading in readings]
    if len(set(needles)) < len(needles) or (None in needles and len(needles) > 1):
        return "two values for one needle"
    return None


def _rivals(heard: Heard, language: Language, unit: Unit, best: Sense) -> list[Contender]:
    """The other things that it may have been, nearest first; rivals that are talk are none. A second opinion compares
    meanings, so the likeliest words for the best one count, whichever the recogniser has put first."""
    found = [(rival, made) for rival in heard.rivals for made in _senses(tokens_of(rival.text), language, unit)]
    same = [rival.behind_second or 0.0 for rival, made in found if made.says == best.says]
    lead = -min([0.0, *same])
    others = [
        Contender(made, rival.behind, None if rival.behind_second is None else rival.behind_second + lead)
        for rival, made in found
        if made.says != best.says
    ]
    return sorted(others, key=lambda other: other.behind)


def _understood(best: Sense, readings: tuple[Reading, ...], heard: Heard) -> Understood:
    """A sense that is believed. A reading or a report says more than the yes or no before it."""
    is_reading, is_report, is_command = readings or best.withdraws, best.reports, best.command
    return Understood(
        kind="reading" if is_reading else "report" if is_report else "command" if is_command else "answer",
        readings=readings,
        correction=best.corrects,
        takes_back=best.withdraws,
        reports=best.reports,
        moments_ms=tuple(_moment(heard, place) for place in best.report_at),
        answer="yes" if best.answer == "yes" else "no" if best.answer else None,
        command=best.command,
        reason=best.reason,
    )


def _readings(made: Sense, heard: Heard) -> tuple[Reading, ...]:
    return tuple(
        Reading(
            value=number.value,
            unit=number.unit,
            needle=needle,
            at_ms=_moment(heard, number.first),
            within=ROUGHLY[number.unit] if number.rough else number.half_span,
        )
        for number in made.numbers
        for needle in (number.needles or (None,))
    )


def _all_readings(senses: Iterable[Sense], heard: Heard) -> tuple[Reading, ...]:
    found: dict[tuple[float, Unit, Needle | None], Reading] = {}
    for made in senses:
        for reading in _readings(made, heard):
            found.setdefault((reading.value, reading.unit, reading.needle), reading)
    return tuple(found.values())


def _moment(heard: Heard, place: int) -> int:
    """When the word at this place was begun; the beginning of the utterance where words have no times."""
    return heard.words[place].start_ms if place < len(heard.words) else heard.start_ms
