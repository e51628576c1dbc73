"""Wording: a prompt id and its values become a sentence, once to be shown and once to be spoken.

Law: both come from the same template, so that screen and voice say the same thing; they differ only in how a value is
written ("82 psi") or pronounced ("eighty two p s i"). A needle is named before its number, and the number comes last.
Templates are checked when they are loaded; a sentence is whole or it is Trouble, never half of one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from string import Formatter

from assistant.core.events import Line, Reading, Value
from assistant.core.numbers import read_back, spoken
from assistant.core.trouble import Trouble

_NAME = re.compile(r"[a-z][a-z_]*\Z")


@dataclass(frozen=True)
class Wording:
    """The templates of one prompt id. `brief`: for people who know the check; "" says nothing. `show`: what a screen
    gets where the sentence stands alone. With `show` alone the prompt is for the screen only."""

    say: str | None = None
    brief: str | None = None
    show: str | None = None


def wordings(tables: Mapping[str, object], above: str = "") -> dict[str, Wording]:
    """The prompts in nested tables, as a TOML file gives them: [ask.chocked] with `say` is the prompt "ask.chocked".

    Raises Trouble that names the table for anything in it that is neither wording nor a table of prompts.
    """
    found: dict[str, Wording] = {}
    own: dict[str, str] = {}
    for key, value in tables.items():
        if isinstance(value, Mapping):
            found |= wordings(value, f"{above}.{key}" if above else key)
        elif above and key in ("say", "brief", "show") and isinstance(value, str):
            own[key] = value
        else:
            raise Trouble(f'Prompt "{above}": "{key}" is no table of prompts, and no text for say, brief or show.')
    if own:
        found[above] = Wording(**own)
    return found


_AGAIN = ("again.", "odd.")


def clock(at_ms: int) -> str:
    """The time in the check as minutes:seconds."""
    return f"{at_ms // 60_000}:{at_ms // 1000 % 60:02d}"


def asks_again(line: Line) -> bool:
    """Whether a sentence says that something has to be said again."""
    return line.prompt.startswith(_AGAIN)


class Prompts:
    """The wording of one language. `brief`: take the brief wording where there is one."""

    def __init__(self, texts: Mapping[str, Wording], *, brief: bool = False) -> None:
        """Raises Trouble for a template that no values could fill."""
        self._texts = dict(texts)
        self._brief = brief
        for prompt, wording in self._texts.items():
            for template in (wording.say, wording.brief, wording.show):
                list(_parts(prompt, template or ""))
            if wording.say is None and (wording.show is None or wording.brief is not None):
                raise Trouble(f'Prompt "{prompt}" has no text to say.')

    def ids(self) -> tuple[str, ...]:
        """Every prompt id, sorted."""
        return tuple(sorted(self._texts))

    def shown(self, line: Line) -> str:
        """What is said, as captions: digits, signs and a capital letter. Raises Trouble, naming the prompt, for an
        unknown id and for a value that is missing or is not what its place takes."""
        return _capital(self._fill(line, self._said(line.prompt, self._wording(line.prompt)), _SHOWN))

    def full(self, line: Line) -> str:
        """The sentence for a screen where it stands alone: nothing was said before it. Raises as `shown`."""
        wording = self._wording(line.prompt)
        return _capital(self._fill(line, wording.show or wording.say or "", _SHOWN))

    def spoken(self, line: Line) -> str:
        """The sentence as words for a voice: no digits, no signs. Raises as `shown`."""
        return self._fill(line, self._said(line.prompt, self._wording(line.prompt)), _SPOKEN)

    def _wording(self, prompt: str) -> Wording:
        if prompt not in self._texts:
            raise Trouble(f'There is no prompt "{prompt}".')
        return self._texts[prompt]

    def _said(self, prompt: str, wording: Wording) -> str:
        text = wording.brief if self._brief and wording.brief is not None else wording.say
        if text is None:
            raise Trouble(f'Prompt "{prompt}" is for the screen only.')
        return text

    def _fill(self, line: Line, template: str, forms: _Forms) -> str:
        out: list[str] = []
        for text, name, spec in _parts(line.prompt, template):
            out.append(text)
            if name is None:
                continue
            value = line.values.get(name)
            if value is None:
                raise Trouble(f'Prompt "{line.prompt}" lacks the value "{name}".')
            try:
                out.append(self._name_of_test(_text(value)) if spec == "test" else forms[spec](value))
            except ValueError as error:
                raise Trouble(f'Prompt "{line.prompt}": the value "{name}" {error}.') from error
        return "".join(out)

    def _name_of_test(self, test: str) -> str:
        return self._wording(f"test.{test}").say or test


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def _parts(prompt: str, template: str) -> Iterator[tuple[str, str | None, str]]:
    """Literal text, then the name and the spec of the value behind it (None, "" at the end). Raises Trouble."""
    try:
        parts = list(Formatter().parse(template))
    except ValueError as error:
        raise Trouble(f'Prompt "{prompt}": {error} in "{template}".') from error
    for text, name, spec, conversion in parts:
        if name is not None and (not _NAME.match(name) or conversion):
            raise Trouble(f'Prompt "{prompt}": "{name}" is not the plain name of a value.')
        if spec and spec not in _SPECS:
            raise Trouble(f'Prompt "{prompt}": there is no form "{spec}"; there are {", ".join(_SPECS)}.')
        yield text, name, spec or ""


# --- the forms of a value: each takes a Value, and raises ValueError ("is no number") for one of another kind ---------


def _text(value: Value) -> str:
    if not isinstance(value, str):
        raise ValueError("is no text")
    return value


def _number(value: Value) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("is no number")
    return value


def _reading(value: Value) -> Reading:
    if not isinstance(value, Reading):
        raise ValueError("is no reading")
    return value


def _readings(value: Value) -> tuple[Reading, ...]:
    readings = (value,) if isinstance(value, Reading) else value
    if not isinstance(readings, tuple) or not readings:
        raise ValueError("holds no readings")
    return readings


def _figures(value: float) -> str:
    """To the nearest tenth, no finer than it can be spoken: 82.0 -> 82, 98.5 -> 98.5."""
    whole, tenth = divmod(abs(round(value * 10)), 10)
    sign = "-" if value < 0 and (whole or tenth) else ""
    return f"{sign}{whole}.{tenth}" if tenth else f"{sign}{whole}"


def _words(value: float) -> str:
    return f"minus {spoken(-value)}" if _figures(value).startswith("-") else spoken(abs(value))


def _unit_figures(reading: Reading) -> str:
    return reading.unit


def _unit_words(reading: Reading) -> str:
    if reading.unit == "psi":
        return "p s i"  # a voice takes the bare word for the Greek letter
    return "kilopascal" if _figures(reading.value) == "1" else "kilopascals"


def _list(
    readings: tuple[Reading, ...], number: Callable[[float], str], unit: Callable[[Reading], str], between: str = ", "
) -> str:
    """The unit stands once, behind the last number that has it: primary 118, secondary 116 psi."""
    groups: list[str] = []
    for _, alike in groupby(readings, key=lambda reading: reading.unit):
        group = list(alike)
        groups.append(f"{_bare(tuple(group), number, between)} {unit(group[-1])}")
    return between.join(groups)


def _bare(readings: tuple[Reading, ...], number: Callable[[float], str], between: str = ", ") -> str:
    """Needles and numbers alone, where nobody doubts the unit."""
    amounts = ((one.needle, _amount(one, number)) for one in readings)
    return between.join(f"{needle} {amount}" if needle else amount for needle, amount in amounts)


def _amount(reading: Reading, number: Callable[[float], str]) -> str:
    """A range between two whole numbers as such, another one as "about"."""
    if reading.within is None:
        return number(reading.value)
    low, high = reading.value - reading.within, reading.value + reading.within
    named = low.is_integer() and high.is_integer()
    return f"{number(low)} to {number(high)}" if named else f"about {number(reading.value)}"


def _seconds(number: str, figures: str) -> str:
    return f"{number} second" if figures == "1" else f"{number} seconds"


_Forms = Mapping[str, Callable[[Value], str]]

_SHOWN: _Forms = {
    "": _text,
    "number": lambda value: _figures(_number(value)),
    "pressure": lambda value: f"{_figures(_reading(value).value)} {_unit_figures(_reading(value))}",
    "readings": lambda value: _list(_readings(value), _figures, _unit_figures),
    "readback": lambda value: _list(_readings(value), _figures, _unit_figures),
    "bare": lambda value: _bare(_readings(value), _figures),
    "seconds": lambda value: _seconds(_figures(_number(value)), _figures(_number(value))),
}
_SPOKEN: _Forms = {
    "": _text,
    "number": lambda value: _words(_number(value)),
    "pressure": lambda value: f"{_words(_reading(value).value)} {_unit_words(_reading(value))}",
    "readings": lambda value: _list(_readings(value), _words, _unit_words),
    # "one five, fifteen" has a comma of its own, so needles are kept apart by more
    "readback": lambda value: _list(_readings(value), read_back, _unit_words, between="; "),
    "bare": lambda value: _bare(_readings(value), read_back, between="; "),
    "seconds": lambda value: _seconds(_words(_number(value)), _figures(_number(value))),
}
_SPECS = (*(spec for spec in _SHOWN if spec), "test")
