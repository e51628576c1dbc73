"""The rule of doubt, as tables: what evidence lets a number in, and what makes it be asked again."""

from __future__ import annotations

from functools import cache

import pytest

from assistant.cli import build
from assistant.core.doubt import (
    ALONE,
    CLIPPED,
    FIRST_WEIGHT,
    LOUD_SNR_DB,
    OFF_SCALE,
    ONE_WORD_NATS,
    QUIET_DB,
    QUIET_SNR_DB,
    TOGETHER,
    UNHEARD_NATS,
    UNLIKE_NATS,
    UNLIKE_NATS_A_LETTER,
    Contender,
    doubt,
    is_beaten,
)
from assistant.core.events import Heard, Rival, Word
from assistant.core.hearing import Understood, tokens_of, understand
from assistant.core.language import Language
from assistant.core.sense import Sense, sense


@cache
def language() -> Language:
    return build.language()


def heard(text: str = "eighty four", *rivals: tuple[str, float], **more: object) -> Heard:
    found = tuple(Rival(text=rival, behind=behind) for rival, behind in rivals)
    return Heard.model_validate({"text": text, "start_ms": 0, "end_ms": 900, "rivals": found} | more)


def said(text: str) -> Sense:
    tokens = tokens_of(text)
    (meaning,) = language().parse(tokens)
    found = sense(meaning, tokens, "psi")
    assert found is not None
    return found


def values(understood: Understood) -> list[float]:
    return [reading.value for reading in understood.candidates]


MEANT = said("fifteen")


@pytest.mark.parametrize("text", ["fifty", "sixteen", "fifteen on the primary", "one hundred ninety", "yes"])
@pytest.mark.parametrize(
    ("ahead", "snr_db", "expected"),
    [
        (0.0, 30.0, None),
        (3.0, -3.0, None),
        (-0.01, None, "doubtful"),
        (-0.01, LOUD_SNR_DB, "doubtful"),
        (-0.01, LOUD_SNR_DB - 0.1, "too loud"),
    ],
)
def test_only_a_rival_nearer_than_its_limit_casts_doubt_and_noise_takes_the_blame(
    text: str, ahead: float, snr_db: float | None, expected: str | None
) -> None:
    limit = {"fifty": ALONE.twin, "one hundred ninety": OFF_SCALE}.get(text, ALONE.usual)
    rival = Contender(said(text), limit + 5 * ALONE.per_db + ahead)
    assert doubt(heard(snr_db=snr_db, treated_snr_db=10.0), MEANT, [rival]) == expected


@pytest.mark.parametrize(
    ("text", "rival", "kind"),
    [
        ("primary fifteen secondary ninety", "primary fifty secondary ninety", "twin"),
        ("primary ninety secondary sixteen", "primary ninety secondary sixty", "twin"),
        ("primary ninety secondary sixteen", "secondary ninety primary sixteen", "usual"),
        ("one eighty", "one eighteen", "twin"),
        ("wheels are chocked", "wheels are unchocked", "twin"),
        ("yes", "wheels are unchocked", "twin"),
    ],
)
@pytest.mark.parametrize("second", [None, 0.0, 3.0, -2.0])
def test_how_far_a_rival_must_be_behind_depends_on_what_it_is(text, rival, kind, second) -> None:
    limit = getattr(ALONE, kind) if second is None else (getattr(TOGETHER, kind) - second) / FIRST_WEIGHT
    assert is_beaten(Contender(said(rival), limit, second), said(text), None)
    assert not is_beaten(Contender(said(rival), limit - 0.01, second), said(text), None)


@pytest.mark.parametrize("second", [None, 0.0, 3.0])
def test_a_rival_that_no_gauge_reads_needs_little_to_be_beaten(second) -> None:
    limit = OFF_SCALE if second is None else (OFF_SCALE - second) / FIRST_WEIGHT
    assert is_beaten(Contender(said("one eighty"), limit, second), said("one eighteen"), None)
    assert not is_beaten(Contender(said("one eighty"), limit - 0.01, second), said("one eighteen"), None)


@pytest.mark.parametrize(("snr_db", "missing"), [(None, 0.0), (40.0, 0.0), (QUIET_SNR_DB, 0.0), (10.0, 5.0)])
@pytest.mark.parametrize(("second", "needs"), [(None, ALONE), (0.0, TOGETHER)])
def test_the_louder_the_noise_the_further_behind(snr_db, missing, second, needs) -> None:
    for text, limit in (("sixteen", needs.usual), ("fifty", needs.twin)):
        enough = (limit + missing * needs.per_db) / (1 if second is None else FIRST_WEIGHT)
        assert is_beaten(Contender(said(text), enough + 0.001, second), MEANT, snr_db)
        assert not is_beaten(Contender(said(text), enough - 0.001, second), MEANT, snr_db)


@pytest.mark.parametrize(
    ("rivals", "why"),
    [
        ([("fifty", 2.0, None)], "doubtful"),
        ([("fifty", 2.0, TOGETHER.twin)], None),  # the second opinion settles what the first one leaves open ...
        ([("fifty", -3.0, TOGETHER.twin + 1.5)], None),  # ... or has decided otherwise ...
        ([("fifty", 5.0, -2.0)], "doubtful"),  # ... and opens what it had settled
        ([("fifty", 2.0, 1.0)], "doubtful"),
        # other words for the same meaning count for it
        ([("fifty", 2.0, 1.0), ("it's fifteen", 3.0, -TOGETHER.twin)], None),
        ([("fifty", 2.0, 1.0), ("it's fifteen", 3.0, 4.0)], "doubtful"),
    ],
)
def test_a_second_opinion_is_weighed_with_the_first(rivals, why) -> None:
    found = tuple(Rival(text=text, behind=behind, behind_second=second) for text, behind, second in rivals)
    understood = understand(heard("fifteen", rivals=found), language(), "psi")
    assert understood.why == why


def test_any_of_the_rivals_may_cast_the_doubt() -> None:
    first, second = Contender(said("sixteen"), ALONE.usual), Contender(said("fifty"), ALONE.twin - 0.1)
    assert doubt(heard(), MEANT, [first]) is None
    assert doubt(heard(), MEANT, [first, second]) == "doubtful"


@pytest.mark.parametrize("behind", [None, 0.0, 99.0])
def test_lost_sound_is_a_doubt_whatever_the_rivals(behind: float | None) -> None:
    rivals = [] if behind is None else [Contender(said("fifty"), behind)]
    assert doubt(heard(gap=True), MEANT, rivals) == "gap"


@pytest.mark.parametrize(
    ("evidence", "expected"),
    [
        ({"clipped": CLIPPED}, None),
        ({"clipped": CLIPPED + 0.01}, "too near"),
        ({"level_db": QUIET_DB}, None),
        ({"level_db": QUIET_DB - 0.1}, "too quiet"),
        ({"clipped": 1.0, "gap": True}, "gap"),
    ],
)
def test_sound_that_the_microphone_spoilt_is_a_doubt_whatever_the_rivals(evidence, expected) -> None:
    assert doubt(heard(**evidence), MEANT, []) == expected
    understood = understand(heard("eighty four", **evidence), language(), "psi")
    assert understood.why == expected
    assert (understood.readings == ()) == (expected is not None)


def test_what_is_typed_is_believed_whatever_the_rivals() -> None:
    assert doubt(heard(by="typed", gap=True), MEANT, [Contender(said("fifty"), 0.0)]) is None


def test_a_rival_that_sounds_alike_must_be_further_behind_than_others() -> None:
    for needs in (ALONE, TOGETHER):
        assert needs.twin > needs.usual > 0


@pytest.mark.parametrize(
    ("text", "rivals", "why", "candidates"),
    [
        ("one eighty", [("one eighteen", 1.0)], "doubtful", [118]),
        ("one ninety", [("one nineteen", ALONE.twin - 0.1), ("nineteen", 0.2)], "doubtful", [119, 19]),
        ("one eighty", [("one eighteen", ALONE.twin)], "out of range", [180]),
        ("one eighty", [("one ninety", 0.1)], "out of range", [180]),
        ("one eighty", [("okay", 0.1), ("what are you looking for", 0.1)], "out of range", [180]),
        ("one eighty", [], "out of range", [180]),
    ],
)
def test_a_number_out_of_range_is_in_doubt_where_one_in_range_is_near(text, rivals, why, candidates) -> None:
    understood = understand(heard(text, *rivals), language(), "psi")
    assert (understood.kind, understood.why) == ("unclear", why)
    assert sorted(values(understood)) == sorted(candidates)


def test_candidates_come_nearest_first() -> None:
    understood = understand(heard("one five", ("one nine", 0.9), ("one four", 0.3)), language(), "psi")
    assert values(understood) == [15, 14, 19]


@pytest.mark.parametrize(
    ("text", "rival", "reports"),
    [
        ("needle stopped at ninety", "needle is at ninety", ()),
        ("needle is at ninety", "needle stopped at ninety", ()),
        ("light is on at sixty two", "buzzer is on at sixty two", ()),
        ("yes ninety", "ninety", ()),
        ("needle stopped at ninety", "needle stopped at nineteen", None),
        ("ninety", "primary ninety", None),
        ("ninety", "about ninety", None),
        ("ninety", "correction ninety", None),
        ("light is on", "light is off", None),
    ],
)
def test_a_number_on_which_all_agree_is_sure_though_a_report_beside_it_is_not(text, rival, reports) -> None:
    understood = understand(heard(text, (rival, 0.1)), language(), "psi")
    assert understood.why == ("doubtful" if reports is None else None)
    assert understood.reports == (reports or ())
    assert len(understood.readings) == (reports is not None)


@pytest.mark.parametrize(("unlike", "why"), [(None, None), (UNLIKE_NATS, None), (UNLIKE_NATS + 0.1, "doubtful")])
def test_what_the_sound_is_unlike_is_a_doubt_without_any_rival(unlike, why) -> None:
    assert understand(heard("eighty four", unlike=unlike), language(), "psi").why == why
    assert understand(heard("wheels are chocked", unlike=unlike), language(), "psi").why is None
    long = heard("primary seventy two secondary seventy", unlike=unlike)
    assert understand(long, language(), "psi").why is None  # a slip or two in so many letters


@pytest.mark.parametrize(
    ("text", "rival", "behind", "why"),
    [
        ("ten", "yeah", -0.1, "doubtful"),  # a bang: the recogniser has heard no number
        ("ninety two", "why not", -3.0, "doubtful"),
        ("ninety two", "why not", 0.0, None),
        ("primary ninety two", "why not", -3.0, None),  # three words that the letters spell are no bang
        ("ten psi", "pen", -3.0, None),  # talk
        ("done", "yes", -3.0, None),  # only numbers
    ],
)
def test_a_short_number_where_the_recogniser_heard_another_sentence_is_asked_again(text, rival, behind, why) -> None:
    found = (Rival(text=rival, behind=behind, behind_second=UNHEARD_NATS),)
    assert understand(heard(text, rivals=found, unlike=0.0), language(), "psi").why == why
    unheard = (Rival(text=rival, behind=behind, behind_second=UNHEARD_NATS + 0.1),)
    assert understand(heard(text, rivals=unheard, unlike=0.0), language(), "psi").why is None


@pytest.mark.parametrize(
    ("text", "rival", "behind", "why"),
    [
        ("four", "for", ONE_WORD_NATS - 0.1, "doubtful"),  # a knock
        ("four", "for", ONE_WORD_NATS, None),
        ("four", "for now", 0.1, None),
        ("four", "fife", 0.1, None),
        ("four psi", "for", 0.1, None),
    ],
)
def test_a_bare_number_is_asked_again_where_a_word_would_have_done(text, rival, behind, why) -> None:
    found = (Rival(text=rival, behind=behind, behind_second=UNHEARD_NATS),)
    assert understand(heard(text, rivals=found, unlike=0.0), language(), "psi").why == why
    unheard = (Rival(text=rival, behind=behind, behind_second=UNHEARD_NATS + 0.1),)
    assert understand(heard(text, rivals=unheard, unlike=0.0), language(), "psi").why is None


@pytest.mark.parametrize(
    ("knob", "thirty", "why"),
    [
        (12.0, 0.0, None),  # the words of the trade are not spelled as surely ...
        (0.0, UNLIKE_NATS, None),
        (0.0, UNLIKE_NATS + 0.1, "doubtful"),  # ... as the number, ...
        (20.0, 0.0, "doubtful"),  # ... but all of it has to be like the sound
    ],
)
def test_in_a_report_the_number_has_to_be_like_its_sound(knob: float, thirty: float, why: str | None) -> None:
    text = "parking knob popped at thirty two"
    unlike = {"knob": knob, "thirty": thirty}
    words = tuple(
        Word(text=word, start_ms=300 * at, end_ms=300 * at + 250, unlike=unlike.get(word, 0.0))
        for at, word in enumerate(text.split())
    )
    understood = understand(heard(text, words=words, unlike=knob + thirty), language(), "psi")
    assert understood.why == why
    said_plainly = understand(heard("thirty two", unlike=knob + thirty), language(), "psi")
    assert said_plainly.why == ("doubtful" if knob + thirty > UNLIKE_NATS else None)


@pytest.mark.parametrize(("over", "why"), [(-0.01, None), (0.01, "doubtful")])
def test_a_long_reading_has_room_for_each_letter(over: float, why: str | None) -> None:
    text = "the gauge reads thirty two"
    most = UNLIKE_NATS_A_LETTER * len(text)
    assert most > UNLIKE_NATS
    assert understand(heard(text, unlike=most + over), language(), "psi").why == why


@pytest.mark.parametrize(
    ("text", "second", "why"),
    [
        ("four", -UNLIKE_NATS, "doubtful"),
        ("done", -UNLIKE_NATS, "doubtful"),
        ("four", 0.1 - UNLIKE_NATS, "talk"),
        ("four", None, "talk"),  # the first ear alone can't tell: much talk has a number near it
    ],
)
def test_talk_that_sounds_like_a_sentence_of_ours_is_asked_again(text, second, why) -> None:
    """ "Fall" for "four": left alone it would be waited for until the question is put again."""
    found = (Rival(text=text, behind=0.2, behind_second=second),)
    understood = understand(heard("fall", rivals=found, unlike=2 * UNLIKE_NATS), language(), "psi")
    assert (understood.kind, understood.why) == ("unclear", why)
    assert values(understood) == ([4] if (text, why) == ("four", "doubtful") else [])
