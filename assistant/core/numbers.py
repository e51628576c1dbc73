"""Spoken numbers, both ways, from one table.

Law: a spelling is one word out of each column of a form, and its value is the sum of what the words add. The acceptor
of the recogniser, the meaning of what was heard and the read-back all come from this table; no other module knows a
number word. No spelling has two values. Shares are whole tenths of the unit, so that sums are exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from itertools import product
from typing import Final

from assistant.core.events import Unit

Column = Mapping[str, int]
"""What may be said at one place of a form: word -> tenths that it adds. The word "": the place is left out."""
Form = tuple[Column, ...]
Part = tuple[Form, ...]
"""Forms to choose from."""

_DIGITS: Final = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    # ICAO Annex 10 vol. II: spoken so over radio, to keep five and nine apart (cited from memory).
    "fife": 5, "niner": 9,
}  # fmt: skip
_NOUGHT: Final = {"zero": 0, "oh": 0}
_TEENS: Final = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS: Final = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_CONFUSABLE: Final = frozenset({*range(13, 20), *range(30, 100, 10)})
"""The teens and tens that are taken for each other: 13 and 30 ... 19 and 90."""

HIGHEST: Final[Mapping[Unit, float]] = {"psi": 159.9, "kPa": 1100.0}
"""The highest value that can be a gauge reading. The table goes on above it, so that a number out of range is heard as
what it is and not pressed into the nearest one in range. Gauges end at 150 psi or 1000 kPa: common practice,
no source."""
HIGHEST_SPOKEN: Final = 1999.9


def _column(words: Mapping[str, int], factor: int = 1, *, may_be_left_out: bool = False) -> Column:
    shares = {word: value * factor * 10 for word, value in words.items()}
    return {"": 0, **shares} if may_be_left_out else shares


_DIGIT = _column(_DIGITS)
_DIGIT_OR_NOUGHT = _column(_DIGITS | _NOUGHT)
_TEEN = _column(_TEENS)
_TEN = _column(_TENS)
_HUNDREDS = _column(_DIGITS, 100)
_AND: Column = {"": 0, "and": 0}
_HUNDRED: Column = {"hundred": 0}

_BELOW_A_HUNDRED: Part = ((_DIGIT,), (_TEEN,), (_TEN,), (_TEN, _DIGIT))


def _after(*columns: Column, parts: Part = _BELOW_A_HUNDRED) -> Part:
    return tuple((*columns, *form) for form in parts)


_HUNDRED_ODD: Part = tuple(  # a hundred, one hundred and four, hundred four
    ({"one": 1000, "a": 1000, "": 1000}, *form) for form in (({"hundred": 0},), *_after({"hundred": 0}, _AND))
)
_HUNDREDS_WORDS: Part = ((_HUNDREDS, {"hundred": 0}), *_after(_HUNDREDS, {"hundred": 0}, _AND))
_THOUSAND: Form = ({"one": 10000, "a": 10000, "": 10000}, {"thousand": 0})
_NOUGHT_FIRST: Column = {"zero": 0}  # not "oh": "oh, five" is five with a sigh before it


def _in_groups(hundreds: Column) -> Part:
    """One eighteen, eight twenty five, ten fifty."""
    return (hundreds, _TEEN), (hundreds, _TEN), (hundreds, _TEN, _DIGIT)


_BELOW_200: Part = (
    (_NOUGHT_FIRST,),
    *_BELOW_A_HUNDRED,
    *_HUNDRED_ODD,
    *_in_groups({"one": 1000}),
    # digit by digit: eight four, one oh four, zero five
    (_column(_DIGITS, 10), _DIGIT_OR_NOUGHT),
    ({"one": 1000}, _column(_DIGITS | _NOUGHT, 10), _DIGIT_OR_NOUGHT),
    (_NOUGHT_FIRST, _DIGIT),
    (_NOUGHT_FIRST, _column(_DIGITS, 10), _DIGIT_OR_NOUGHT),
)
_ANY_WHOLE: Part = (
    *_BELOW_200,
    *_HUNDREDS_WORDS,
    *_in_groups(_HUNDREDS),
    (_HUNDREDS, _column(_DIGITS | _NOUGHT, 10), _DIGIT_OR_NOUGHT),
    # a thousand and more: eleven hundred, one thousand fifty, ten fifty, one zero five zero
    ({"ten": 10000, "eleven": 11000}, {"hundred": 0}),
    _THOUSAND,
    *_after(*_THOUSAND, _AND),
    *_after(*_THOUSAND, parts=_HUNDREDS_WORDS),
    *_in_groups({"ten": 10000, "eleven": 11000}),
    ({"ten": 10000, "eleven": 11000}, {"oh": 0}, _DIGIT),
    ({"one": 10000}, _column(_NOUGHT, 100), _column(_DIGITS | _NOUGHT, 10), _DIGIT_OR_NOUGHT),
    ({"one": 10000}, {"one": 1000}, _column(_NOUGHT, 10), _column(_NOUGHT)),
)
_FRACTION: Part = (
    (),
    ({"and": 0}, {"a": 0, "one": 0}, {"half": 5}),
    # Beside halves there are tenths, so that none is taken for a half.
    ({"point": 0}, {word: value for word, value in (_DIGITS | _NOUGHT).items()}),
)

NUMBER: Final[tuple[Part, ...]] = (_ANY_WHOLE, _FRACTION)
"""Every number there is a spelling of: one form of each part, in this order."""
USUAL: Final[Mapping[Unit, tuple[Part, ...]]] = {"psi": (_BELOW_200, _FRACTION), "kPa": (_ANY_WHOLE,)}
"""What is said where gauges read in this unit, and the numbers just above."""


def spellings(parts: tuple[Part, ...] = NUMBER) -> Iterator[tuple[tuple[str, ...], float]]:
    """Every spelling with its value; of the whole numbers only, when just the first part of NUMBER is given."""
    for forms in product(*parts):
        columns = [column for form in forms for column in form]
        for choice in product(*(column.items() for column in columns)):
            yield tuple(word for word, _ in choice if word), sum(share for _, share in choice) / 10


@lru_cache(maxsize=4096)
def value_of(words: tuple[str, ...]) -> float | None:
    """The value of a spelling; None when the words are no number, or more than one."""
    tenths = {
        whole + part
        for cut in range(len(words) + 1)
        for whole in _sums(NUMBER[0], words[:cut])
        for part in _sums(NUMBER[1], words[cut:])
    }
    return tenths.pop() / 10 if tenths else None


def _sums(part: Part, words: tuple[str, ...]) -> set[int]:
    """What the words add up to, by any form of the part."""
    found = set()
    for form in part:
        sums = {0: 0}  # words used so far -> their sum
        for column in form:
            sums = {
                used + bool(word): total + column[word]
                for used, total in sums.items()
                for word in ("", *words[used : used + 1])
                if word in column
            }
            if not sums:
                break
        if len(words) in sums:
            found.add(sums[len(words)])
    return found


_NAMES: Final = {value: word for words in (_TENS, _TEENS, _DIGITS, {"zero": 0}) for word, value in words.items()} | {
    5: "five",
    9: "nine",
}


def words_of(value: float) -> tuple[str, ...]:
    """The plain spelling of a value, to the nearest tenth: 104: one hundred and four, 98.5: ninety eight and a half.

    Raises ValueError outside 0 to HIGHEST_SPOKEN.
    """
    if not 0 <= value <= HIGHEST_SPOKEN:
        raise ValueError(f"{value} can't be spoken: 0 to {HIGHEST_SPOKEN} can")
    whole, tenths = divmod(round(value * 10), 10)
    words = _whole_words(whole)
    if tenths == 5 and whole:
        return (*words, "and", "a", "half")
    return (*words, "point", _NAMES[tenths]) if tenths else words


def _whole_words(whole: int) -> tuple[str, ...]:
    if whole in _NAMES:
        return (_NAMES[whole],)
    for step, name in ((1000, "thousand"), (100, "hundred")):
        if whole >= step:
            head, rest = (_NAMES[whole // step], name), whole % step
            joint = ("and",) if 0 < rest < 100 else ()
            return (*head, *joint, *_whole_words(rest)) if rest else head
    return _NAMES[whole // 10 * 10], _NAMES[whole % 10]


def spoken(value: float) -> str:
    """A value in plain words, as a sentence takes it. Raises ValueError as `words_of` does."""
    return " ".join(words_of(value))


def read_back(value: float) -> str:
    """A value as it is read back: in groups as drivers speak ("one twenty two", "one oh four"); teens and tens first
    digit by digit and then so ("one five, fifteen"), as FAA Order 7110.65 allows the group form after the digits (cited
    from memory).

    Raises ValueError as `words_of` does.
    """
    whole, tenths = divmod(round(value * 10), 10)
    hundreds, rest = divmod(whole, 100)
    group = spoken(value)
    if 0 < hundreds < 10 and rest:
        group = " ".join([_NAMES[hundreds], *(["oh"] if rest < 10 else []), *words_of(rest + tenths / 10)])
    if rest not in _CONFUSABLE:
        return group
    digits = [_NAMES[int(digit)] for digit in str(whole)]
    return " ".join([*digits, "point", _NAMES[tenths]] if tenths else digits) + ", " + group


def from_figures(figures: str) -> tuple[str, ...] | None:
    """The plain spelling of a typed number ("84", "98.5"); None for no number, one finer than a tenth, or too high."""
    whole, point, tenth = figures.partition(".")
    if not (whole.isascii() and whole.isdigit()) or (point and not (len(tenth) == 1 and tenth in "0123456789")):
        return None
    value = int(whole) + (int(tenth) / 10 if point else 0)
    return words_of(value) if value <= HIGHEST_SPOKEN else None


def may_go_on(words: tuple[str, ...], unit: Unit | None = None) -> bool:
    """Whether the words end in a number that more words can make another one which a gauge in `unit`, or in any, can
    show: sixty -> sixty five; one oh two -> one oh two zero, but not in psi."""
    whole, begun = _on_a_gauge(HIGHEST[unit] if unit else max(HIGHEST.values()))
    for first in range(len(words)):  # the longest number at the end is the one that was meant
        if words[first:] in whole:
            return words[first:] in begun
    return False


@cache
def _on_a_gauge(highest: float) -> tuple[frozenset[tuple[str, ...]], frozenset[tuple[str, ...]]]:
    """All whole numbers up to the highest, as spelled, and all proper beginnings of them."""
    whole = frozenset(words for words, value in spellings(NUMBER[:1]) if value <= highest)
    return whole, frozenset(words[:end] for words in whole for end in range(1, len(words)))


def are_twins(one: float, other: float) -> bool:
    """Whether two values are a teen and the ten that sounds nearly like it: 15 and 50, 118 and 180."""
    (hundreds, rest), (others, its_rest) = divmod(one, 100), divmod(other, 100)
    teen, ten = sorted((rest, its_rest))
    whole, part = divmod(teen, 1)
    return hundreds == others and whole in range(13, 20) and ten == 10 * (whole - 10) + part
