"""Letters to sentences: how likely a text is, which sentences of the language are the likeliest, and when their words
were said."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from assistant.ears.opinion import Real
from assistant.ears.searching import LanguageWays, Search
from assistant.ears.spelling import LETTERS, log_likelihoods, spelled, word_steps, words_unlike, written
from tests.walk import language

OUTPUTS = len(LETTERS) + 1


def told_by(text: str, sure: float = 0.9) -> Real:
    """Each sign of `text` in a step of its own, "-" for none, "sure" of it and of all others alike."""
    places = [0 if sign == "-" else LETTERS.index(sign) + 1 for sign in text]
    told = np.full((len(places), OUTPUTS), (1 - sure) / (OUTPUTS - 1), np.float32)
    told[np.arange(len(places)), places] = sure
    return np.log(told)


def by_hand(told: Real, text: str) -> float:
    """The sum over every way to write it, from the definition (Graves et al. 2006, equation 3)."""
    signs = sorted({0, *(LETTERS.index(letter) + 1 for letter in text)})
    found = 0.0
    for way in itertools.product(signs, repeat=len(told)):
        if "".join(LETTERS[sign - 1] for sign, _ in itertools.groupby(way) if sign) == text:
            found += float(np.exp(sum(told[at, sign] for at, sign in enumerate(way))))
    return float(np.log(found))


@pytest.mark.parametrize("texts", [["ab"], ["aa"], ["a"], ["a b", "aab", "b", "ba"]])
def test_a_text_is_as_likely_as_all_ways_to_write_it_together(texts) -> None:
    chances = np.random.default_rng(3).dirichlet(np.ones(OUTPUTS), 6)
    told = np.log(chances).astype(np.float32)
    assert log_likelihoods(told, texts) == pytest.approx([by_hand(told, text) for text in texts], abs=1e-3)


def test_what_needs_more_steps_than_there_are_cannot_be_written() -> None:
    one, other = log_likelihoods(told_by("aa-a"), ["aa", "aaa"])
    assert one > -5
    assert other < -1e6


@pytest.mark.parametrize(
    ("text", "letters"),
    [("four p s i", "four psi"), ("the brake's on", "the brake's on"), ("chalk-it [x]", "chalkit x")],
)
def test_a_text_is_written_in_the_letters_that_there_are(text: str, letters: str) -> None:
    assert written(text) == letters


@pytest.mark.parametrize(
    ("written", "text"),
    [("n-i-n-e", "nine"), ("thrre-e", "three"), ("-six- -ty", "six ty"), ("--", "")],
)
def test_letters_that_are_held_are_one_and_spaces_are_kept_between_words(written, text) -> None:
    assert spelled(told_by(written)) == text


@pytest.mark.parametrize(
    ("written", "text"),
    [
        ("ninety two", "ninety two"),
        ("nninn-ety-- tw-o", "ninety two"),
        ("primary one eightte-en", "primary one eighteen"),
        ("sigxty fi-ve psi", "sixty five psi"),
        ("wheeels are chocked", "wheels are chocked"),
    ],
)
def test_the_likeliest_sentence_of_the_language_is_found_through_slips_of_spelling(written, text) -> None:
    found = Search(LanguageWays(language().next_words, language().stand), 24).texts(told_by(written), 5)
    assert found[0] == text
    assert all(language().stand(one.split()).complete for one in found)
    assert len(set(found)) == len(found) <= 5


def test_of_plain_silence_no_sentence_is_likely() -> None:
    told = told_by("-" * 20, sure=0.999)
    found = Search(LanguageWays(language().next_words, language().stand), 24).texts(told, 3)
    assert not found or max(log_likelihoods(told, found)) < -10


def test_the_words_have_the_steps_that_their_letters_are_written_in() -> None:
    assert word_steps(told_by("--ninety--- tw-oo---"), "ninety two") == [(2, 8), (12, 17)]
    assert word_steps(told_by("five"), "five") == [(0, 4)]


def test_each_word_is_as_unlike_its_own_part_of_the_sound_as_it_is() -> None:
    told = told_by("-n-o-b-- --p-o-p-s-- --a-t-- --thirty-- --two")
    text = "knob popped at thirty two"
    knob, popped, at, thirty, two = words_unlike(told, text)
    assert knob > 1
    assert popped > 1
    assert max(at, thirty, two) < 0.5


def test_the_letters_of_a_unit_are_one_part_of_the_sound() -> None:
    nine, *unit = words_unlike(told_by("nine-- psi"), "nine p s i")
    assert nine < 0.5
    assert unit == [unit[0]] * 3
