"""From the tags of one parsed utterance to what it says: readings, reports, an answer, a command.

Law: within one breath the last word counts: a repair replaces the number before it, of the needle that it names or else
the last one. A number never gets a needle that was not spoken. What contradicts itself has no sense at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from assistant.core.events import Needle, Unit
from assistant.core.language import NUMBER, Meant
from assistant.core.numbers import HIGHEST, value_of

_NEEDLES: dict[str, tuple[Needle, ...]] = {
    "primary": ("primary",),
    "secondary": ("secondary",),
    "both": ("primary", "secondary"),
}
_UNITS: dict[str, Unit] = {"psi": "psi", "kPa": "kPa"}


@dataclass(frozen=True)
class Number:
    """One spoken value. `needles`: whose it is, () = not said. `unit_said`: the unit is not just the usual one.
    `first`, `end`: its words are tokens[first:end]. `rough`: "about". `half_span`: it is the middle of two that were
    named, this far from either."""

    value: float
    needles: tuple[Needle, ...]
    unit: Unit
    unit_said: bool
    first: int
    end: int
    rough: bool = False
    half_span: float | None = None

    @property
    def on_the_scale(self) -> bool:
        """A gauge can read it."""
        return 0 <= self.value <= HIGHEST[self.unit]


@dataclass(frozen=True)
class Sense:
    """What one parse of an utterance says. `numbers`: after all repairs. `corrects`: a repair came before any number,
    so an earlier utterance is meant; `withdraws`: an earlier number is taken back, `took_back`: one of this utterance.
    `report_at`: the places of the first words of `reports`. `alike`: other words than numbers have an opposite that
    sounds nearly the same."""

    numbers: tuple[Number, ...] = ()
    corrects: bool = False
    withdraws: bool = False
    took_back: bool = False
    reports: tuple[str, ...] = ()
    report_at: tuple[int, ...] = ()
    answer: str | None = None
    command: str | None = None
    reason: str | None = None
    inexact: bool = False
    ambiguous: bool = False
    alike: bool = False

    @property
    def on_the_scale(self) -> bool:
        """Every number is one that a gauge can read."""
        return all(number.on_the_scale for number in self.numbers)

    @property
    def says(self) -> tuple[object, ...]:
        """What two utterances that mean the same have in common: all but the words, and where they stand."""
        numbers = tuple((one.value, one.needles, one.unit, one.rough, one.half_span) for one in self.numbers)
        left_out = ("numbers", "report_at", "alike")
        return (numbers, *(value for name, value in vars(self).items() if name not in left_out))


@dataclass
class _Draft:
    """The utterance so far. `groups`: the numbers between one repair and the next."""

    unit: Unit
    groups: list[list[Number]] = field(default_factory=lambda: [[]])
    needles: tuple[Needle, ...] = ()
    marks: set[str] = field(default_factory=set)
    reports: dict[str, int] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)
    contradicts: bool = False
    rough: bool = False
    span: bool = False


def sense(meaning: Sequence[Meant], tokens: Sequence[str], unit: Unit) -> Sense | None:
    """The sense of one parse of `tokens`; None when it contradicts itself: two needles for one number, or one number
    taken apart ("primary one eighteen secondary" breaks off; it is not 1 and 18).

    `unit`: of a number without one.
    """
    draft = _Draft(unit)
    for meant in meaning:
        _read(draft, meant)
    if draft.contradicts or _takes_apart(meaning, tokens):
        return None
    numbers: tuple[Number, ...] = ()
    for group in draft.groups:
        numbers = _repaired(numbers, _once(group))
    withdrawn = "withdrawn" in draft.marks
    return Sense(
        numbers=() if withdrawn else numbers,
        corrects="corrects" in draft.marks,
        withdraws=withdrawn and not numbers,
        took_back=withdrawn and bool(numbers),
        reports=tuple(draft.reports),
        report_at=tuple(draft.reports.values()),
        answer=draft.said.get("answer"),
        command=draft.said.get("command"),
        reason=draft.said.get("reason"),
        inexact="inexact" in draft.marks,
        ambiguous="ambiguous" in draft.marks,
        alike="sounds-alike" in draft.marks,
    )


def _read(draft: _Draft, meant: Meant) -> None:
    kind, _, value = meant.tag.partition("=")
    group = draft.groups[-1]
    if kind == NUMBER:
        number = Number(meant.tenths / 10, draft.needles, draft.unit, False, meant.first, meant.end, draft.rough)
        group.append(_spanned(group.pop(), number) if draft.span and group else number)
        draft.needles, draft.rough = (), False
    elif kind == "needle":
        draft.needles = _NEEDLES[value]
    elif kind == "on":
        draft.contradicts |= bool(group[-1].needles)
        group[-1] = replace(group[-1], needles=_NEEDLES[value])
    elif kind == "unit":
        group[-1] = replace(group[-1], unit=_UNITS[value], unit_said=True)
    elif kind in ("rough", "span"):
        setattr(draft, kind, True)
    elif kind == "repair":
        if any(draft.groups):
            draft.groups.append([])
        else:
            draft.marks.add("corrects")
    elif kind == "report":
        draft.reports.setdefault(value, meant.first)
    elif value:
        draft.said[kind] = value
    else:
        draft.marks.add(kind)


def _spanned(low: Number, high: Number) -> Number:
    """ "Between 85 and 90": 87.5, 2.5 from either."""
    middle, half = (low.value + high.value) / 2, abs(high.value - low.value) / 2
    return replace(low, value=middle, end=high.end, half_span=half)


def _takes_apart(meaning: Sequence[Meant], tokens: Sequence[str]) -> bool:
    numbers = [meant for meant in meaning if meant.tag == NUMBER]
    if any(meant.tag == "span" for meant in meaning):
        return False
    return any(value_of(tuple(tokens[one.first : other.end])) is not None for one, other in pairwise(numbers))


def _repaired(old: tuple[Number, ...], new: tuple[Number, ...]) -> tuple[Number, ...]:
    """`old` with `new` in the place of what it replaces."""
    if not old or not new:
        return new or old
    if len(new) == 1 and not new[0].needles:
        last = old[-1]
        unit = new[0].unit if new[0].unit_said else last.unit
        return (*old[:-1], replace(new[0], needles=last.needles, unit=unit))
    named = {needle for number in new for needle in number.needles}
    kept = tuple(
        replace(number, needles=left)
        for number in old
        if (left := tuple(needle for needle in number.needles if needle not in named))
    )
    touched = any(named.intersection(number.needles) for number in old)
    return (*(kept if touched else old[:-1]), *new)


def _once(group: Iterable[Number]) -> tuple[Number, ...]:
    """A value said twice over for the same needle counts once; it is as clear as the clearer of both."""
    once: dict[tuple[float, tuple[Needle, ...]], Number] = {}
    for number in group:
        before = once.setdefault((number.value, number.needles), number)
        clearer = before if before.unit_said else number
        once[number.value, number.needles] = replace(before, unit=clearer.unit, unit_said=clearer.unit_said)
    return tuple(once.values())
