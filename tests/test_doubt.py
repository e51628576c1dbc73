"""The rule of doubt, as tables: what evidence lets a number in, and what makes it be asked again."""

from __future__ import annotations

from functools import cache

import pytest

from assistant.cli import build
from assistant.core.doubt import (
    CLIPPED,
    LOUD_SNR_DB,
    NEEDED_NATS,
    NEEDED_NATS_PER_DB,
    NEEDED_NATS_TWIN,
    QUIET_DB,
    QUIET_SNR_DB,
    doubt,
    needed,
)
from assistant.core.events import Heard, Rival
from assistant.core.hearing import Understood, tokens_of, understand
from assistant.core.language import Language
from assistant.core.sense import Sense, sense


@cache
def language() -> Language:
    return build.language()


def heard(text: str = "eighty four", *rivals: tuple[str, float], **more: object) -> Heard:
    found = tuple(Rival(text=rival, behind=behind) for rival, behind in rivals)
    return Heard.model_validate({"text": text, "start_ms": 0, "end_ms": 900, "rivals": found, **more})


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
    limit = needed(MEANT, said(text), 15.0)
    assert doubt(heard(snr_db=snr_db, treated_snr_db=15.0), MEANT, [(limit + ahead, said(text))]) == expected


@pytest.mark.parametrize(
    ("text", "rival", "limit"),
    [
        ("primary fifteen secondary ninety", "primary fifty secondary ninety", NEEDED_NATS_TWIN),
        ("primary ninety secondary sixteen", "primary ninety secondary sixty", NEEDED_NATS_TWIN),
        ("primary ninety secondary sixteen", "secondary ninety primary sixteen", NEEDED_NATS),
        ("one eighteen", "one eighty", NEEDED_NATS),
        ("one eighty", "one eighteen", NEEDED_NATS_TWIN),
        ("wheels are chocked", "wheels are unchocked", NEEDED_NATS_TWIN),
        ("yes", "wheels are unchocked", NEEDED_NATS_TWIN),
    ],
)
def test_how_far_a_rival_must_be_behind_depends_on_what_it_is(text: str, rival: str, limit: float) -> None:
    assert needed(said(text), said(rival), None) == limit


@pytest.mark.parametrize(
    ("snr_db", "more"),
    [
        (None, 0.0),
        (40.0, 0.0),
        (QUIET_SNR_DB, 0.0),
        (QUIET_SNR_DB - 5, 5 * NEEDED_NATS_PER_DB),
        (0.0, QUIET_SNR_DB * NEEDED_NATS_PER_DB),
    ],
)
def test_the_louder_the_noise_the_further_behind(snr_db: float | None, more: float) -> None:
    assert needed(MEANT, said("sixteen"), snr_db) == pytest.approx(NEEDED_NATS + more)
    assert needed(MEANT, said("fifty"), snr_db) == pytest.approx(NEEDED_NATS_TWIN + more)


def test_any_of_the_rivals_may_cast_the_doubt() -> None:
    first, second = (NEEDED_NATS, said("sixteen")), (NEEDED_NATS_TWIN - 0.1, said("fifty"))
    assert doubt(heard(), MEANT, [first]) is None
    assert doubt(heard(), MEANT, [first, second]) == "doubtful"


@pytest.mark.parametrize("behind", [None, 0.0, 99.0])
def test_lost_sound_is_a_doubt_whatever_the_rivals(behind: float | None) -> None:
    rivals = [] if behind is None else [(behind, said("fifty"))]
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
    assert doubt(heard(by="typed", gap=True), MEANT, [(0.0, said("fifty"))]) is None


def test_a_rival_that_sounds_alike_must_be_further_behind_than_others() -> None:
    assert NEEDED_NATS_TWIN > NEEDED_NATS > 0


@pytest.mark.parametrize(
    ("text", "rivals", "why", "candidates"),
    [
        ("one eighty", [("one eighteen", 1.0)], "doubtful", [118]),
        ("one ninety", [("one nineteen", NEEDED_NATS_TWIN - 0.1), ("nineteen", 0.2)], "doubtful", [119, 19]),
        ("one eighty", [("one eighteen", NEEDED_NATS_TWIN)], "out of range", [180]),
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
