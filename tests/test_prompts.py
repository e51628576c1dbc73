"""Wording: one template becomes a caption with figures and a spoken sentence with words."""

from __future__ import annotations

import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from assistant.core.events import Line, Reading, Value
from assistant.core.prompts import Prompts, Wording, wordings
from assistant.core.trouble import Trouble


def psi(value: float, needle: str | None = None) -> Reading:
    return Reading.model_validate({"value": value, "unit": "psi", "needle": needle})


def kpa(value: float, needle: str | None = None) -> Reading:
    return Reading.model_validate({"value": value, "unit": "kPa", "needle": needle})


BOTH = (psi(118.0, "primary"), psi(116.0, "secondary"))


def both_forms(template: str, value: Value) -> tuple[str, str]:
    prompts = Prompts({"a.b": Wording(say=template), "test.governor-cut-out": Wording(say="governor cut-out")})
    line = Line(prompt="a.b", values={"x": value})
    return prompts.shown(line), prompts.spoken(line)


@pytest.mark.parametrize(
    ("template", "value", "shown", "spoken"),
    [
        ("{x:number}.", 82, "82.", "eighty two."),
        ("{x:number}.", 82.0, "82.", "eighty two."),
        ("{x:number}", 98.5, "98.5", "ninety eight and a half"),
        ("{x:number}", 1.2000000000000002, "1.2", "one point two"),
        ("{x:number}", -3, "-3", "minus three"),
        ("{x:number}", -0.01, "0", "zero"),
        ("At {x:pressure}, now.", psi(82), "At 82 psi, now.", "At eighty two p s i, now."),
        ("{x:pressure}", kpa(380), "380 kPa", "three hundred and eighty kilopascals"),
        ("{x:pressure}", kpa(1), "1 kPa", "one kilopascal"),
        ("{x:pressure}", psi(15), "15 psi", "fifteen p s i"),
        (
            "{x:readings}",
            BOTH,
            *(
                "primary 118, secondary 116 psi",
                "primary one hundred and eighteen, secondary one hundred and sixteen p s i",
            ),
        ),
        ("{x:readings}", psi(90, "primary"), "primary 90 psi", "primary ninety p s i"),
        ("{x:readings}", (psi(90),), "90 psi", "ninety p s i"),
        (
            "{x:readings}",
            (psi(90, "primary"), kpa(600, "secondary")),
            "primary 90 psi, secondary 600 kPa",
            "primary ninety p s i, secondary six hundred kilopascals",
        ),
        ("{x:readback}", psi(15, "primary"), "primary 15 psi", "primary one five, fifteen p s i"),
        (
            "{x:readback}",
            (psi(50, "primary"), psi(84, "secondary")),
            "primary 50, secondary 84 psi",
            "primary five zero, fifty; secondary eighty four p s i",
        ),
        ("{x:seconds}", 45, "45 seconds", "forty five seconds"),
        ("{x:seconds}", 1, "1 second", "one second"),
        ("{x:seconds}", 47.312, "47.3 seconds", "forty seven point three seconds"),
        ("Next, {x:test}.", "governor-cut-out", "Next, governor cut-out.", "Next, governor cut-out."),
        ("The {x} needle, {{so}}.", "primary", "The primary needle, {so}.", "The primary needle, {so}."),
    ],
)
def test_each_form_of_a_value_is_shown_in_figures_and_spoken_in_words(
    template: str, value: Value, shown: str, spoken: str
) -> None:
    assert both_forms(template, value) == (shown[0].upper() + shown[1:], spoken)


def test_a_whole_pressure_is_spoken_as_num2words_spells_it() -> None:
    """Source: the package num2words, British form ("one hundred and four"), without its hyphens and commas."""
    for value in range(1101):
        expected = re.sub("[,-]", lambda mark: " " if mark[0] == "-" else "", num2words(value))
        assert both_forms("{x:pressure}", psi(value))[1] == f"{expected} p s i"


@given(st.floats(0, 1100), st.sampled_from(["number", "seconds"]))
def test_a_spoken_sentence_holds_no_figure_and_a_shown_one_the_value_to_a_tenth(value: float, form: str) -> None:
    shown, spoken = both_forms("{x:" + form + "}", value)
    assert re.fullmatch("[a-z ]+", spoken)
    assert float(shown.split()[0]) == pytest.approx(value, abs=0.0501)


def test_a_toml_table_is_a_prompt_and_its_path_the_id() -> None:
    texts = wordings(
        tomllib.loads(
            """
            [ask.chocked]
            say = "Are the wheels chocked?"
            brief = "Chocked?"
            [closing]
            say = "Over."
            [closing.counts]
            say = "{passed:number} passed."
            show = "Passed: {passed:number}"
            [heading.limits]
            show = "Limits"
            """
        )
    )
    prompts = Prompts(texts)
    assert prompts.ids() == ("ask.chocked", "closing", "closing.counts", "heading.limits")
    assert texts["ask.chocked"] == Wording(say="Are the wheels chocked?", brief="Chocked?")


def test_the_brief_wording_is_taken_where_there_is_one_and_only_when_asked_for() -> None:
    texts = {"a.b": Wording(say="Are the wheels chocked?", brief="Chocked?"), "c.d": Wording(say="Over.")}
    full, brief = Prompts(texts), Prompts(texts, brief=True)
    for prompt, long, short in (("a.b", "Are the wheels chocked?", "Chocked?"), ("c.d", "Over.", "Over.")):
        line = Line(prompt=prompt)
        assert (full.shown(line), full.spoken(line)) == (long, long)
        assert (brief.shown(line), brief.spoken(line)) == (short, short)


def test_the_screen_can_have_a_wording_of_its_own() -> None:
    prompts = Prompts({"a.b": Wording(say="{n:number} passed.", show="Passed: {n:number}")})
    line = Line(prompt="a.b", values={"n": 3})
    assert (prompts.full(line), prompts.shown(line), prompts.spoken(line)) == (
        "Passed: 3",
        "3 passed.",
        "three passed.",
    )


def test_a_brief_wording_can_say_nothing() -> None:
    brief = Prompts({"a.b": Wording(say="All is well.", brief="")}, brief=True)
    assert (brief.spoken(Line(prompt="a.b")), brief.full(Line(prompt="a.b"))) == ("", "All is well.")


def test_a_prompt_for_the_screen_only_is_shown_and_never_spoken() -> None:
    prompts = Prompts({"heading.limits": Wording(show="Limits")})
    assert prompts.full(Line(prompt="heading.limits")) == "Limits"
    with pytest.raises(Trouble, match=r'"heading\.limits" is for the screen only'):
        prompts.spoken(Line(prompt="heading.limits"))


@pytest.mark.parametrize(
    ("template", "value", "says"),
    [
        ("{y:number}", 5, 'lacks the value "y"'),
        ("{x:number}", None, 'lacks the value "x"'),
        ("{x:number}", "five", '"x" is no number'),
        ("{x:number}", psi(5), '"x" is no number'),
        ("{x:pressure}", 5, '"x" is no reading'),
        ("{x:readings}", (), '"x" holds no readings'),
        ("{x:readback}", "five", '"x" holds no readings'),
        ("{x:seconds}", "five", '"x" is no number'),
        ("{x}", 5, '"x" is no text'),
        ("{x:test}", 5, '"x" is no text'),
        ("{x:test}", "unheard-of", r'no prompt "test\.unheard-of"'),
    ],
)
def test_a_value_that_is_missing_or_of_another_kind_is_named(template: str, value: Value, says: str) -> None:
    prompts = Prompts({"a.b": Wording(say=template)})
    for form in (prompts.shown, prompts.spoken):
        with pytest.raises(Trouble, match=says):
            form(Line(prompt="a.b", values={"x": value}))


def test_a_number_that_has_no_words_is_trouble_and_no_silence() -> None:
    prompts = Prompts({"a.b": Wording(say="{x:number}")})
    with pytest.raises(Trouble, match=r'"a\.b".*"x"'):
        prompts.spoken(Line(prompt="a.b", values={"x": 1e9}))


def test_an_unknown_prompt_is_named() -> None:
    prompts = Prompts({"a.b": Wording(say="Over.")})
    for form in (prompts.shown, prompts.spoken):
        with pytest.raises(Trouble, match=r'no prompt "a\.c"'):
            form(Line(prompt="a.c"))


@pytest.mark.parametrize(
    ("template", "says"),
    [
        ("{x:psi}", 'no form "psi"; there are number, pressure'),
        ("{x:.1f}", r'no form "\.1f"'),
        ("{}", "not the plain name of a value"),
        ("{0}", "not the plain name of a value"),
        ("{x.value}", "not the plain name of a value"),
        ("{x!r}", "not the plain name of a value"),
        ("{x", "a.b"),
        ("x}", "a.b"),
    ],
)
@pytest.mark.parametrize("place", ["say", "brief", "show"])
def test_a_template_that_no_value_can_fill_is_refused_when_it_is_loaded(place: str, template: str, says: str) -> None:
    with pytest.raises(Trouble, match=says) as caught:
        Prompts({"a.b": Wording(**{"say": "Over.", place: template})})
    assert '"a.b"' in str(caught.value)


@pytest.mark.parametrize("wording", [Wording(), Wording(brief="Short."), Wording(brief="Short.", show="Shown.")])
def test_a_prompt_without_a_text_to_say_is_refused(wording: Wording) -> None:
    with pytest.raises(Trouble, match="no text to say"):
        Prompts({"a.b": wording})


@pytest.mark.parametrize(
    "toml",
    ['say = "top"', "[a.b]\nsay = 5", '[a.b]\nsays = "x"', '[a.b]\nsay = "x"\nextra = ["y"]', "[[a.b]]\nsay = 'x'"],
)
def test_anything_in_a_prompt_file_that_is_no_wording_is_named(toml: str) -> None:
    with pytest.raises(Trouble, match="is no table of prompts"):
        wordings(tomllib.loads(toml))
