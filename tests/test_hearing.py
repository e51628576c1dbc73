"""What utterances mean. The phrases are those of the trade: common practice, no source, unless one is named."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.doubt import ALONE, HARMLESS
from assistant.core.events import Heard, Rival, Unit, Word
from assistant.core.hearing import Understood, mends_itself, tokens_of, understand
from assistant.core.language import Language
from assistant.core.numbers import HIGHEST, NUMBER, spellings
from assistant.ears import grammar

FOLDER = Path(__file__).parents[1] / "grammars"


@cache
def language() -> Language:
    return grammar.read(FOLDER)


def hear(text: str, unit: Unit = "psi", rivals: tuple[tuple[str, float], ...] = (), **evidence: object) -> Understood:
    """What an utterance of 1000 to 1000 + 100 ms a word is understood as."""
    words = tuple(
        Word(text=word, start_ms=1000 + 100 * place, end_ms=1090 + 100 * place)
        for place, word in enumerate(text.split())
    )
    heard = Heard.model_validate(
        {
            "text": text,
            "start_ms": 1000,
            "end_ms": 1000 + 100 * len(words),
            "words": words,
            "rivals": tuple(Rival(text=other, behind=behind) for other, behind in rivals),
            **evidence,
        }
    )
    return understand(heard, language(), unit)


def type_in(text: str, unit: Unit = "psi") -> Understood:
    return understand(Heard(text=text, start_ms=1000, end_ms=1000, by="typed"), language(), unit)


def brief(understood: Understood) -> str:
    """Readings as "118", "118 kPa", "118 primary"; then what else was understood."""
    readings = [
        f"{reading.value:g}"
        + (" kPa" if reading.unit == "kPa" else "")
        + (f" {reading.needle}" if reading.needle else "")
        for reading in understood.readings
    ]
    marks = ["corrects"] * understood.correction + ["takes back"] * understood.takes_back
    words = (understood.answer, understood.command, understood.reason, understood.why)
    return ", ".join([*readings, *understood.reports, *(word for word in words if word), *marks])


READINGS = {
    "eighty four": "84",
    "eight four": "84",
    "one oh four": "104",
    "one hundred and four": "104",
    "a hundred four": "104",
    "one twenty": "120",
    "ninety eight and a half": "98.5",
    "ninety eight point five": "98.5",
    "zero": "0",
    # ICAO Annex 10 vol. II: niner and fife (from memory)
    "one fife niner": "159",
    "eighty four psi": "84",
    "eighty four p s i": "84",
    "eighty four pounds": "84",
    "eight hundred kilopascals": "800 kPa",
    "eight hundred kilo pass calls": "800 kPa",
    "eight twenty five k p a": "825 kPa",
    # carriers
    "it's at eighty four": "84",
    "it is at eighty four": "84",
    "reads eighty four": "84",
    "i have eighty four": "84",
    "needle is at eighty four": "84",
    "the pressure is eighty four": "84",
    "holding at eighty four": "84",
    "now at eighty four": "84",
    "down to eighty four": "84",
    "cut out at one twenty five": "125",
    "the governor cut in at one hundred": "100",
    "popped out at thirty eight": "38",
    "okay it's at ninety": "90",
    "yes ninety": "90",
    # approximately is how gauges are read
    "about ninety": "90",
    "it's around ninety": "90",
    # needles
    "primary one eighteen": "118 primary",
    "the secondary needle reads one sixteen": "116 secondary",
    "rear one eighteen": "118 primary",
    "front axle one sixteen": "116 secondary",
    "one eighteen on the primary": "118 primary",
    "primary one eighteen secondary one sixteen": "118 primary, 116 secondary",
    "primary one eighteen and secondary one sixteen": "118 primary, 116 secondary",
    "secondary one sixteen primary one eighteen": "116 secondary, 118 primary",
    "one eighteen primary one sixteen secondary": "118 primary, 116 secondary",
    "i have primary one oh five and secondary ninety eight": "105 primary, 98 secondary",
    "both at one twenty": "120 primary, 120 secondary",
    "both needles are at one twenty": "120 primary, 120 secondary",
    "primary and secondary are both at one twenty": "120 primary, 120 secondary",
    "one twenty on both": "120 primary, 120 secondary",
    # a value said twice over is one value; FAA Order 7110.65: digits, then the group form (from memory)
    "one five fifteen": "15",
    "one one five one hundred fifteen": "115",
    "ninety two ninety two": "92",
}

CORRECTIONS = {
    "ninety two correction eighty two": "82",
    "ninety two no eighty two": "82",
    "ninety two no no eighty two": "82",
    "ninety two sorry eighty two": "82",
    "ninety two no sorry eighty two": "82",
    "ninety two make that eighty two": "82",
    "ninety two sorry make that eighty two": "82",
    "ninety two i mean eighty two": "82",
    "ninety two i meant eighty two": "82",
    "ninety two scratch that eighty two": "82",
    "ninety two disregard eighty two": "82",
    "ninety two or rather eighty two": "82",
    "ninety two no it's eighty two": "82",
    "primary ninety two correction eighty two": "82 primary",
    "ninety two correction primary eighty two": "82 primary",
    "primary ninety two secondary ninety correction eighty eight": "92 primary, 88 secondary",
    "primary ninety two secondary ninety correction primary eighty two": "90 secondary, 82 primary",
    "primary one eighteen correction secondary one sixteen": "116 secondary",
    "both at one twenty correction one eighteen": "118 primary, 118 secondary",
    "both at one twenty correction secondary one eighteen": "120 primary, 118 secondary",
    "eight hundred kilopascals correction eight twenty": "820 kPa",
    # what was said before this breath is replaced
    "correction eighty two": "82, corrects",
    "correction primary eighty two": "82 primary, corrects",
    "no eighty two": "82, corrects",
    "negative eighty two": "82, corrects",
    "sorry eighty two": "82, corrects",
    "make that eighty two": "82, corrects",
    "i mean eighty two": "82, corrects",
    "scratch that eighty two": "82, corrects",
    "correction ninety two no eighty two": "82, corrects",
    # what was said before is taken back, with nothing in its place
    "scratch that": "takes back",
    "disregard": "takes back",
    "disregard that": "takes back",
    "no scratch that": "takes back",
    "take that back": "takes back",
}

REPORTS = {
    "light is on": "light-on",
    "the warning light came on": "light-on",
    "light's on": "light-on",
    "light is off": "light-off",
    "light is not on": "light-off",
    "no light": "light-off",
    "light did not come on": "light-off",
    "buzzer on": "buzzer-on",
    "i hear the buzzer": "buzzer-on",
    "the buzzer is sounding": "buzzer-on",
    "buzzer is off": "buzzer-off",
    "no buzzer": "buzzer-off",
    "i don't hear the buzzer": "buzzer-off",
    "light and buzzer on": "light-on, buzzer-on",
    "light is on but no buzzer": "light-on, buzzer-off",
    "no light no buzzer": "light-off, buzzer-off",
    "needle stopped": "needle-stopped",
    "the needles have settled": "needle-stopped",
    "trailer knob popped": "trailer-knob-popped",
    "the red knob popped out": "trailer-knob-popped",
    "parking knob popped": "parking-knob-popped",
    "yellow one popped out": "parking-knob-popped",
    "both knobs popped": "trailer-knob-popped, parking-knob-popped",
    "did not pop": "did-not-pop",
    "it didn't pop": "did-not-pop",
    "the knob stayed in": "did-not-pop",
    "chocks are in": "chocks-in",
    "chalks are in": "chocks-in",
    "wheels are chocked": "chocks-in",
    "chocks are out": "chocks-out",
    "wheels are unchocked": "chocks-out",
    "brakes are set": "brakes-set",
    "parking brake is set": "brakes-set",
    "brakes released": "brakes-released",
    "engine is off": "engine-off",
    "engine is running": "engine-running",
    "key is on": "key-on",
    "pedal is down": "pedal-down",
    "full application": "pedal-down",
    "it held": "held",
    "it's holding": "held",
    "it did not move": "held",
    "it moved": "moved",
    "it did not hold": "moved",
    "pulls left": "pulls-left",
    "it pulled to the right": "pulls-right",
    "no pull": "straight",
    "it stopped straight": "straight",
    "i felt it": "felt",
    "brakes felt": "felt",
    "i did not feel it": "not-felt",
    "felt nothing": "not-felt",
    "start": "start",
    "mark": "mark",
    "done": "done",
    "ready": "done",
    "set": "done",
    "not fitted": "not-fitted",
    "pressure is rising": "rising",
    "air dryer purged": "air-purged",
    "yes it held": "held",
    "no it moved": "moved",
}

BOTH = {
    "light is on at sixty two": "62, light-on",
    "sixty two light and buzzer on": "62, light-on, buzzer-on",
    "trailer knob popped at forty": "40, trailer-knob-popped",
    "forty trailer knob popped": "40, trailer-knob-popped",
    "the needle stopped at one eighteen": "118, needle-stopped",
    "start eighty five": "85, start",
    "one hundred mark": "100, mark",
    "light is on at sixty two correction sixty": "60, light-on",
}

ANSWERS_AND_COMMANDS = {
    "yes": "yes",
    "affirm": "yes",
    "affirmative": "yes",
    "that's right": "yes",
    "no": "no",
    "negative": "no",
    # ETSI ES 202 076 and ICAO Annex 10 vol. II (from memory)
    "help": "help",
    "repeat": "repeat",
    "say again": "repeat",
    "go back": "go-back",
    "cancel": "cancel",
    "stop": "stop",
    "stop the test": "stop",
    "emergency": "stop",
    "stand by": "stand-by",
    "wait": "stand-by",
    "hold on": "stand-by",
    "continue": "continue",
    "resume": "continue",
    "go on": "continue",
    "what is the limit": "limit",
    "how long left": "time-left",
    "why": "why",
    "where are we": "status",
    "skip": "skip",
    "skip this test": "skip",
    "skip not fitted": "skip, not-fitted",
    "skip it's not safe here": "skip, not-safe",
    "skip because there's no time": "skip, no-time",
    "skip this does not work": "skip, does-not-work",
    "not safe here": "not-safe",
    "no time": "no-time",
    "does not work": "does-not-work",
}

UNCLEAR = {
    # not for us; "roger" and "okay" say that something was received, not that it is right
    "": "talk",
    "roger": "talk",
    "okay": "talk",
    "correct": "talk",
    "what do you want for dinner": "talk",
    "we need to be there by five thirty": "talk",
    "ninety two bottles": "talk",
    "start the test": "talk",
    "the": "talk",
    # numbers that no gauge shows are not pressed into those it shows
    "three hundred": "out of range",
    "one sixty": "out of range",
    "one ninety nine": "out of range",
    "eight twenty five": "out of range",
    "nine ninety nine psi": "out of range",
    "eleven oh five": "out of range",
    "one thousand two hundred kilopascals": "out of range",
    # two numbers and no way to know which is whose
    "one eighteen one sixteen": "two values for one needle",
    "one eighteen and one sixteen": "two values for one needle",
    "one twenty one eighteen": "two values for one needle",
    "primary ninety primary eighty": "two values for one needle",
    "primary one eighteen one sixteen": "two values for one needle",
    "both at ninety primary eighty": "two values for one needle",
    "one hundred one five": "two values for one needle",
    # a bound is no reading
    "just under sixty": "doubtful",
    "more than ninety": "doubtful",
    # an alarm that went off has sounded, a light that went off is dark
    "buzzer went off": "doubtful",
    "light went off": "doubtful",
    # broken off
    "primary": "unfinished",
    "primary is at": "unfinished",
    "primary one eighteen secondary": "unfinished",
    "one hundred and": "unfinished",
    "ninety two correction": "unfinished",
    "correction": "unfinished",
    "ninety two scratch that": "unfinished",
}


@pytest.mark.parametrize(("text", "meaning"), READINGS.items())
def test_a_reading_is_taken_as_it_was_spoken(text: str, meaning: str) -> None:
    assert (hear(text).kind, brief(hear(text))) == ("reading", meaning)


@pytest.mark.parametrize(("text", "meaning"), CORRECTIONS.items())
def test_the_last_word_counts(text: str, meaning: str) -> None:
    assert (hear(text).kind, brief(hear(text))) == ("reading", meaning)


@pytest.mark.parametrize(
    ("text", "mends"),
    {
        "forty six correction thirty six": True,
        "primary ninety secondary eighty no eighty two": True,
        "eighty two scratch that": True,
        "correction thirty six": False,  # of what was said before
        "primary ninety secondary eighty": False,
        "so they say": False,
    }.items(),
)
def test_a_correction_in_one_breath_is_told_from_one_of_what_was_said_before(text: str, mends: bool) -> None:
    assert mends_itself(text, language()) == mends


@pytest.mark.parametrize(("text", "meaning"), REPORTS.items())
def test_a_report_is_understood(text: str, meaning: str) -> None:
    assert (hear(text).kind, brief(hear(text))) == ("report", meaning)


@pytest.mark.parametrize(("text", "meaning"), BOTH.items())
def test_a_report_and_a_reading_may_come_in_one_breath(text: str, meaning: str) -> None:
    assert (hear(text).kind, brief(hear(text))) == ("reading", meaning)


@pytest.mark.parametrize(("text", "meaning"), ANSWERS_AND_COMMANDS.items())
def test_an_answer_or_a_command_is_understood(text: str, meaning: str) -> None:
    understood = hear(text)
    assert (understood.kind, brief(understood)) == ("command" if understood.command else "answer", meaning)


@pytest.mark.parametrize(("text", "why"), UNCLEAR.items())
def test_what_is_not_clear_is_never_guessed(text: str, why: str) -> None:
    understood = hear(text)
    assert (understood.kind, brief(understood)) == ("unclear", why)


def test_what_it_may_have_been_is_told() -> None:
    candidates = hear("primary one eighteen one sixteen").candidates
    assert [(reading.value, reading.needle) for reading in candidates] == [(118, "primary"), (116, None)]
    assert [reading.value for reading in hear("three hundred").candidates] == [300]


@pytest.mark.parametrize(
    ("text", "unit", "meaning"),
    [
        ("eight twenty five", "kPa", "825 kPa"),
        ("one thousand fifty", "kPa", "1050 kPa"),
        ("eighty four psi", "kPa", "84"),
        ("one hundred kilopascals", "psi", "100 kPa"),
        ("eight twenty five psi", "kPa", "out of range"),
        ("eleven hundred", "kPa", "1100 kPa"),
        ("one thousand two hundred", "kPa", "out of range"),
    ],
)
def test_the_spoken_unit_wins_and_nothing_is_ever_converted(text: str, unit: Unit, meaning: str) -> None:
    assert brief(hear(text, unit)) == meaning


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("84", "84"),
        ("Primary: 118 psi, secondary: 116.", "118 primary, 116 secondary"),
        ("825 kPa", "825 kPa"),
        ("118psi", "118"),
        ("98.5", "98.5"),
        ("1,050 kPa", "1050 kPa"),
        ("ninety-two, correction: eighty-two", "82"),
        ("It\u2019s at 84!", "84"),
        ("chocks in", "chocks-in"),
        ("300", "out of range"),
        ("118 116", "talk"),
        ("90 2", "talk"),
        ("118/116", "talk"),
        ("-5", "talk"),
        ("~60", "talk"),
        ("<60", "talk"),
        ("98.25", "talk"),
    ],
)
def test_what_is_typed_means_what_it_says_spoken(text: str, meaning: str) -> None:
    assert brief(type_in(text)) == meaning


def test_a_reading_is_dated_by_the_first_word_of_its_number() -> None:
    primary, secondary = hear("primary is at one eighteen secondary one sixteen").readings
    assert (primary.at_ms, secondary.at_ms) == (1300, 1600)
    assert [reading.at_ms for reading in hear("ninety two correction eighty two").readings] == [1300]


def test_a_report_is_dated_by_its_first_word() -> None:
    understood = hear("sixty two light and buzzer on")
    assert (understood.readings[0].at_ms, understood.moments_ms, understood.moment_ms) == (1000, (1200, 1400), 1200)
    assert hear("okay mark").moment_ms == 1100


def test_without_word_times_the_utterance_gives_the_moment() -> None:
    heard = Heard(text="needle is at ninety", start_ms=700, end_ms=1500)
    assert understand(heard, language(), "psi").readings[0].at_ms == 700
    assert type_in("mark").moment_ms == 1000


@pytest.mark.parametrize(
    ("text", "rival", "needed"),
    [
        ("eighty four", "eighty five", ALONE.usual),
        ("primary eighty four", "secondary eighty four", ALONE.usual),
        ("eighty four", "eighty four kilo pass calls", ALONE.usual),
        ("fifteen", "fifty", ALONE.twin),
        ("one fifteen", "one fifty", ALONE.twin),
        ("thirty", "twenty", ALONE.usual),
        ("one five", "one nine", ALONE.usual),
        ("fifty five", "sixty five", ALONE.usual),
        ("yes", "no", ALONE.usual),
        ("it held", "it moved", ALONE.usual),
        ("wheels are chocked", "wheels are on chalked", ALONE.twin),
        ("continue", "cancel", ALONE.usual),
    ],
)
def test_a_meaning_with_a_close_rival_is_asked_again(text: str, rival: str, needed: float) -> None:
    meant = hear(text)
    near = hear(text, rivals=((text, 0.1), (rival, needed - 0.1)))
    assert (near.kind, near.why) == ("unclear", "doubtful")
    assert meant.readings == near.candidates[: len(meant.readings)]
    assert hear(rival).readings == near.candidates[len(meant.readings) :]
    assert hear(text, rivals=((rival, needed),)) == meant


@pytest.mark.parametrize(
    ("text", "rival"),
    [
        ("one hundred and four", "one hundred four"),
        ("fifteen", "uh fifteen"),
        ("eighty four", "eighty four psi"),
        ("eighty four", "what are you looking for"),
        ("eighty four", ""),
        ("light is on", "the light came on"),
    ],
)
def test_a_rival_with_the_same_meaning_or_none_casts_no_doubt(text: str, rival: str) -> None:
    assert hear(text, rivals=((rival, 0.0),)) == hear(text)


def test_a_doubt_in_loud_noise_is_blamed_on_the_noise() -> None:
    assert hear("eighty four", rivals=(("eighty five", 1.0),), snr_db=2.0).why == "too loud"
    assert hear("eighty four", rivals=(("eighty five", 1.0),), snr_db=20.0).why == "doubtful"
    assert hear("eighty four", snr_db=2.0).why is None


@pytest.mark.parametrize("text", ["eighty four", "yes", "it held", "continue", "eighty four what"])
def test_an_utterance_that_lost_sound_is_asked_again(text: str) -> None:
    assert hear(text, gap=True).why == "gap"


@pytest.mark.parametrize(("text", "command"), [("stop", "stop"), ("stand by", "stand-by"), ("help", "help")])
def test_a_harmless_command_is_obeyed_on_any_evidence(text: str, command: str) -> None:
    assert command in HARMLESS
    assert hear(text, rivals=(("start", 0.1),), gap=True, snr_db=0.0).command == command


def test_what_is_typed_is_never_in_doubt() -> None:
    assert brief(hear("fifteen", rivals=(("fifty", 0.0),), by="typed")) == "15"


def test_a_reading_below_everyday_talk_is_talk() -> None:
    assert hear("no for the", rivals=(("no forty", 0.2),)).why == "talk"


WHOLE = sorted(dict(spellings(NUMBER[:1])).items())


@settings(deadline=None)
@given(st.sampled_from(WHOLE), st.sampled_from(["psi", "kPa"]))
def test_any_spelling_alone_is_its_value_or_out_of_range(spelling: tuple[tuple[str, ...], float], unit: Unit) -> None:
    words, value = spelling
    understood = hear(" ".join(words), unit)
    if value <= HIGHEST[unit]:
        assert [(reading.value, reading.unit) for reading in understood.readings] == [(value, unit)]
    else:
        assert understood.why == "out of range"


@settings(deadline=None)
@given(st.sampled_from(WHOLE), st.sampled_from(WHOLE))
def test_any_two_spellings_with_their_needles_are_both_values(
    one: tuple[tuple[str, ...], float], other: tuple[tuple[str, ...], float]
) -> None:
    understood = hear(f"primary {' '.join(one[0])} secondary {' '.join(other[0])} ", "kPa")
    if max(one[1], other[1]) <= HIGHEST["kPa"]:
        assert {reading.needle: reading.value for reading in understood.readings} == {
            "primary": one[1],
            "secondary": other[1],
        }
    else:
        assert understood.why == "out of range"


@settings(deadline=None)
@given(st.sampled_from(WHOLE), st.sampled_from(WHOLE))
def test_two_spellings_without_a_needle_are_never_two_readings(
    one: tuple[tuple[str, ...], float], other: tuple[tuple[str, ...], float]
) -> None:
    understood = hear(" ".join(one[0] + other[0]), "kPa")
    assert len(understood.readings) <= 1
    if understood.readings:  # together they are one number, or the same number twice, wherever that is cut
        known, words = dict(WHOLE), one[0] + other[0]
        twice = {known.get(words[:at]) for at in range(1, len(words)) if known.get(words[:at]) == known.get(words[at:])}
        assert understood.readings[0].value in ({known[words]} if words in known else twice - {None})


@settings(deadline=None)
@given(st.sampled_from(WHOLE), st.sampled_from(WHOLE))
def test_a_number_is_never_taken_apart_between_two_needles(
    one: tuple[tuple[str, ...], float], other: tuple[tuple[str, ...], float]
) -> None:
    assert not hear(f"primary {' '.join(one[0])} secondary", "kPa").readings
    found = hear(f"primary {' '.join(one[0] + other[0])} secondary", "kPa").readings
    assert {reading.needle: reading.value for reading in found} in ({}, {"primary": one[1], "secondary": other[1]})


SOME_WORDS = (
    "primary secondary both no correction scratch that and a half at on psi ninety one eighteen oh hundred light"
    " off mark"
)


@settings(deadline=None, max_examples=300)
@given(st.lists(st.sampled_from(SOME_WORDS.split()), max_size=8))
def test_whatever_is_said_a_reading_is_in_range_and_each_needle_has_one(words: list[str]) -> None:
    understood = hear(" ".join(words))
    assert (understood.kind == "unclear") == (understood.why is not None)
    needles = [reading.needle for reading in understood.readings]
    assert len(set(needles)) == len(needles)
    assert None not in needles or len(needles) == 1
    assert all(0 <= reading.value <= HIGHEST[reading.unit] for reading in understood.readings)


@given(st.text(max_size=40))
def test_any_text_becomes_words(text: str) -> None:
    assert all(token and not token.isspace() for token in tokens_of(text))


@pytest.mark.parametrize(
    ("phrase", "value", "within"),
    [
        ("about ninety", 90, 2.5),
        ("the needle is at about ninety", 90, 2.5),
        ("exactly ninety", 90, None),
        ("between eighty five and ninety", 87.5, 2.5),
        ("between sixty and sixty five psi", 62.5, 2.5),
    ],
)
def test_a_range_is_a_reading_with_its_width(phrase, value, within) -> None:
    heard = Heard(text=phrase, start_ms=0, end_ms=900, by="typed")
    (reading,) = understand(heard, language(), "psi").readings
    assert (reading.value, reading.within) == (value, within)
