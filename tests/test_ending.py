"""How long a silence ends an utterance: nobody is cut off inside a number or between two needles."""

from __future__ import annotations

import pytest

from assistant.ears.ending import (
    BROKEN_OFF_AFTER,
    OPEN_AFTER,
    TENS_AFTER,
    WHOLE_AFTER,
    always_open,
    may_be_joined,
    wait_by,
)
from tests.walk import language

WAIT = wait_by(language().stand)


@pytest.mark.parametrize("text", ["eighty four", "yes", "it held", "primary one eighteen secondary one sixteen"])
def test_what_is_complete_in_every_way_is_answered_at_once(text) -> None:
    assert WAIT(text) == WHOLE_AFTER


@pytest.mark.parametrize("text", ["eighty", "one hundred", "one twenty", "eight four", ""])
def test_a_number_that_may_go_on_is_waited_for(text) -> None:
    assert WAIT(text) == OPEN_AFTER


@pytest.mark.parametrize(
    ("text", "in_psi", "in_kpa"),
    [
        ("one oh two", WHOLE_AFTER, OPEN_AFTER),  # 1 020 kPa may follow
        ("eight four", WHOLE_AFTER, OPEN_AFTER),
        ("one one", OPEN_AFTER, OPEN_AFTER),
        ("eighty", OPEN_AFTER, OPEN_AFTER),
    ],
)
def test_what_no_gauge_in_the_unit_reads_is_not_waited_for(text, in_psi, in_kpa) -> None:
    assert wait_by(language().stand, unit="psi")(text) == in_psi
    assert wait_by(language().stand, unit="kPa")(text) == in_kpa


def test_the_other_needle_is_waited_for() -> None:
    assert WAIT("primary one eighteen") == OPEN_AFTER
    assert WAIT("one eighteen on the secondary") == OPEN_AFTER


@pytest.mark.parametrize("text", ["ninety two correction", "primary is at"])
def test_a_phrase_that_breaks_off_is_waited_for_longest(text) -> None:
    assert WAIT(text) == BROKEN_OFF_AFTER


def test_talk_is_given_the_middle_wait() -> None:
    assert WAIT("the weather is fine") == OPEN_AFTER
    assert always_open("anything") == OPEN_AFTER


@pytest.mark.parametrize("text", ["eighty", "one hundred", "one twenty"])
def test_a_number_in_tens_is_answered_sooner_where_what_comes_late_can_be_joined(text) -> None:
    assert wait_by(language().stand, lambda: True)(text) == TENS_AFTER
    assert may_be_joined(text)


@pytest.mark.parametrize(
    ("text", "wait"),
    [
        ("eight four", OPEN_AFTER),  # figures are said one by one, slowly
        ("primary one twenty", OPEN_AFTER),  # the other needle may follow
        ("eighty four", WHOLE_AFTER),
        ("ninety two correction", BROKEN_OFF_AFTER),
    ],
)
def test_nothing_else_is_answered_sooner(text, wait) -> None:
    assert wait_by(language().stand, lambda: True)(text) == wait
