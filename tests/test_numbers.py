"""Spoken numbers, both ways, against num2words and against the rules of radiotelephony."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from assistant.core.numbers import (
    HIGHEST,
    HIGHEST_SPOKEN,
    NUMBER,
    USUAL,
    are_twins,
    from_figures,
    read_back,
    spellings,
    spoken,
    value_of,
    words_of,
)

WHOLE = dict(spellings(NUMBER[:1]))


def oracle(number: float) -> str:
    """A number in English words, without punctuation. Source: the num2words package (PyPI)."""
    return str(num2words(number)).replace("-", " ").replace(",", "")


def test_what_num2words_writes_is_heard_as_the_number_and_is_what_is_said_for_it() -> None:
    for number in range(1101):
        assert WHOLE[tuple(oracle(number).split())] == number
        assert spoken(number) == oracle(number)


def test_a_number_without_its_and_is_the_same_number() -> None:
    # American usage; num2words writes the British "and".
    for number in range(1101):
        assert WHOLE[tuple(oracle(number).replace(" and ", " ").split())] == number


def test_a_number_given_digit_by_digit_is_that_number() -> None:
    # ICAO Annex 10 vol. II 5.2.1.4 (from memory): each digit is pronounced separately, five as fife, nine as niner.
    for number in range(1, 1101):
        digits = [oracle(int(digit)) for digit in str(number)]
        by_radio = [{"nine": "niner", "five": "fife"}.get(digit, digit) for digit in digits]
        by_telephone = ["oh" if digit == "zero" else digit for digit in digits]
        assert {WHOLE[tuple(words)] for words in (digits, by_radio, by_telephone)} == {number}


def test_every_spelling_of_0_to_1100_is_what_num2words_says_of_its_parts() -> None:
    # The other way round: the value that num2words gives to the words, group by group, is the value in the table.
    names = {oracle(number): number for number in range(100)}
    plain = {"oh": "zero", "fife": "five", "niner": "nine"}
    for words, value in WHOLE.items():
        if value <= 1100:
            assert value in _by_groups([plain.get(word, word) for word in words if word != "and"], names), words


def _by_groups(words: list[str], names: dict[str, int]) -> set[int]:
    """All that the words may mean: hundreds and thousands multiply, groups of one or two digits follow each other."""
    for scale, factor in (("thousand", 1000), ("hundred", 100)):
        if scale in words:
            place = words.index(scale)
            head = {1} if words[:place] in ([], ["a"]) else _by_groups(words[:place], names)
            tail = _by_groups(words[place + 1 :], names) if words[place + 1 :] else {0}
            return {first * factor + rest for first in head for rest in tail}
    if " ".join(words) in names:
        return {names[" ".join(words)]}
    found = set()
    for cut in range(1, len(words)):
        last = " ".join(words[cut:])
        if last in names:
            shift = 100 if names[last] > 9 else 10
            found |= {head * shift + names[last] for head in _by_groups(words[:cut], names)}
    return found


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("eighty four", 84),
        ("eight four", 84),
        ("one oh four", 104),
        ("one zero four", 104),
        ("one hundred and four", 104),
        ("one hundred four", 104),
        ("a hundred four", 104),
        ("hundred and four", 104),
        ("one twenty", 120),
        ("one eighteen", 118),
        ("one one five", 115),
        ("one fife niner", 159),
        ("zero five", 5),
        ("nine hundred", 900),
        ("eight twenty five", 825),
        ("eight oh five", 805),
        ("a thousand", 1000),
        ("ten hundred", 1000),
        ("ten fifty", 1050),
        ("one thousand fifty", 1050),
        ("one zero five zero", 1050),
        ("eleven hundred", 1100),
        ("one thousand one hundred", 1100),
        ("one one zero zero", 1100),
        ("three hundred", 300),
        ("one ninety nine", 199),
        ("ninety eight and a half", 98.5),
        ("ninety eight and one half", 98.5),
        ("ninety eight point five", 98.5),
        ("nine eight point five", 98.5),
        ("ninety eight point three", 98.3),
        ("one hundred and a half", 100.5),
        ("zero point five", 0.5),
    ],
)
def test_a_usual_spelling_has_its_value(text: str, value: float) -> None:
    # Common practice, no source: how drivers say gauge pressures.
    assert value_of(tuple(text.split())) == value


@pytest.mark.parametrize("text", ["oh", "oh five", "eighty fourteen", "twenty hundred", "and four", "point five"])
def test_what_is_no_number_has_no_value(text: str) -> None:
    assert value_of(tuple(text.split())) is None


def test_no_spelling_has_two_values() -> None:
    values: dict[tuple[str, ...], float] = {}
    for words, value in spellings():
        assert values.setdefault(words, value) == value, words
    assert all(value_of(words) == value for words, value in list(values.items())[::499])


@pytest.mark.parametrize(("unit", "top"), [("psi", 199), ("kPa", 1100)])
def test_every_whole_number_of_a_gauge_and_just_above_has_a_usual_spelling(unit: str, top: int) -> None:
    usual = {value for _, value in spellings(USUAL[unit][:1])}  # type: ignore[index]
    assert usual >= set(range(top + 1))
    assert top >= HIGHEST[unit]  # type: ignore[index]


def test_numbers_beyond_the_gauge_are_known_as_what_they_are() -> None:
    assert set(WHOLE.values()) == set(range(2000))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "zero"),
        (12, "twelve"),
        (15, "one five, fifteen"),
        (20, "twenty"),
        (50, "five zero, fifty"),
        (55, "fifty five"),
        (104, "one oh four"),
        (122, "one twenty two"),
        (100, "one hundred"),
        (113, "one one three, one thirteen"),
        (130, "one three zero, one thirty"),
        (850, "eight five zero, eight fifty"),
        (98.5, "ninety eight and a half"),
        (15.5, "one five point five, fifteen and a half"),
        (98.3, "ninety eight point three"),
        (0.5, "zero point five"),
    ],
)
def test_a_value_is_read_back_so_that_teens_and_tens_can_not_be_mixed_up(value: float, text: str) -> None:
    # The confusable pairs and "five zero, fifty": NCC MERP recommendations on verbal orders (from memory).
    assert read_back(value) == text


@given(st.integers(0, 11009))
def test_every_form_of_a_read_back_is_heard_as_the_value_that_was_read_back(tenths: int) -> None:
    value = tenths / 10
    forms = read_back(value).split(", ")
    assert all(value_of(tuple(form.split())) == value for form in forms)
    assert len(forms) == (2 if tenths // 10 % 100 in {*range(13, 20), *range(30, 100, 10)} else 1)


@pytest.mark.parametrize("value", [-1, -0.1, HIGHEST_SPOKEN + 0.1, float("inf"), float("nan")])
def test_a_value_without_a_spelling_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="can't be spoken"):
        words_of(value)


@pytest.mark.parametrize(
    ("figures", "text"),
    [
        ("84", "eighty four"),
        ("0", "zero"),
        ("098", "ninety eight"),
        ("98.5", "ninety eight and a half"),
        ("98.0", "ninety eight"),
        ("1050", "one thousand and fifty"),
    ],
)
def test_typed_figures_become_words(figures: str, text: str) -> None:
    assert from_figures(figures) == tuple(text.split())


@pytest.mark.parametrize("figures", ["", "-5", "98.25", "98.", ".5", "1e3", "2000", "99999", "4x", "\u0664", "\u00b2"])
def test_figures_that_can_not_be_spoken_are_no_number(figures: str) -> None:
    assert from_figures(figures) is None


@pytest.mark.parametrize(("one", "other"), [(13, 30), (19, 90), (118, 180), (18.5, 80.5), (915, 950)])
def test_a_teen_and_its_ten_are_twins(one: float, other: float) -> None:
    assert are_twins(one, other)
    assert are_twins(other, one)


@pytest.mark.parametrize(
    ("one", "other"), [(15, 15), (15, 55), (15, 51), (12, 20), (16, 50), (18, 180), (118, 80), (18.5, 80), (0, 0)]
)
def test_other_numbers_are_no_twins(one: float, other: float) -> None:
    assert not are_twins(one, other)
    assert not are_twins(other, one)
