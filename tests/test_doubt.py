"""The rule of doubt, as tables: what evidence lets a number in, and what makes it be asked again."""

from __future__ import annotations

from functools import cache

import pytest

from assistant.cli import build
from assistant.core.doubt import LOUD_SNR_DB, NEEDED_NATS, NEEDED_NATS_OPPOSITE, QUIET_DB, doubt, needed
from assistant.core.events import Heard, Rival
from assistant.core.hearing import Understood, understand
from assistant.core.language import Language


@cache
def language() -> Language:
    return build.language()


def heard(text: str = "eighty four", *rivals: tuple[str, float], **more: object) -> Heard:
    found = tuple(Rival(text=rival, behind=behind) for rival, behind in rivals)
    return Heard.model_validate({"text": text, "start_ms": 0, "end_ms": 900, "rivals": found, **more})


def values(understood: Understood) -> list[float]:
    return [reading.value for reading in understood.candidates]


@pytest.mark.parametrize("opposite", [False, True])
@pytest.mark.parametrize("treated", [None, 2.0, 15.0, 40.0])
@pytest.mark.parametrize(
    ("behind_the_limit", "snr_db", "expected"),
    [
        (None, None, None),
        (None, -3.0, None),
        (0.0, 30.0, None),
        (3.0, -3.0, None),
        (-0.01, None, "doubtful"),
        (-0.01, LOUD_SNR_DB, "doubtful"),
        (-0.01, LOUD_SNR_DB - 0.1, "too loud"),
    ],
)
def test_only_a_rival_nearer_than_the_limit_casts_doubt_and_noise_takes_the_blame(
    opposite: bool, treated: float | None, behind_the_limit: float | None, snr_db: float | None, expected: str | None
) -> None:
    evidence = heard(snr_db=snr_db, treated_snr_db=treated)
    behind = None if behind_the_limit is None else needed(evidence, opposite) + behind_the_limit
    assert doubt(evidence, opposite, behind) == expected


@pytest.mark.parametrize("behind", [None, 0.0, 99.0])
def test_lost_sound_is_a_doubt_whatever_the_rivals(behind: float | None) -> None:
    assert doubt(heard(gap=True), False, behind) == "gap"


def test_what_is_typed_is_believed_whatever_the_rivals() -> None:
    assert doubt(heard(by="typed", gap=True), True, 0.0) is None


def test_the_more_noise_is_left_the_more_is_needed() -> None:
    limits = [needed(heard(treated_snr_db=above), False) for above in (60.0, QUIET_DB, 15.0, 10.0, 5.0, 0.0, -5.0)]
    assert limits == sorted(limits)
    assert limits[0] == limits[1] == NEEDED_NATS < limits[2]


def test_words_with_an_opposite_that_sounds_the_same_need_more() -> None:
    assert needed(heard(treated_snr_db=40.0), True) == NEEDED_NATS_OPPOSITE > NEEDED_NATS


@pytest.mark.parametrize(
    ("text", "rivals", "why", "candidates"),
    [
        ("one eighty", [("one eighteen", 1.0)], "doubtful", [118]),
        ("one ninety", [("one nineteen", NEEDED_NATS - 0.1), ("nineteen", 0.2)], "doubtful", [119, 19]),
        ("one eighty", [("one eighteen", NEEDED_NATS)], "out of range", [180]),
        ("one eighty", [("one ninety", 0.1)], "out of range", [180]),
        ("one eighty", [("okay", 0.1), ("what are you looking for", 0.1)], "out of range", [180]),
        ("one eighty", [], "out of range", [180]),
    ],
)
def test_a_number_out_of_range_is_in_doubt_where_one_in_range_is_near(text, rivals, why, candidates) -> None:
    understood = understand(heard(text, *rivals, treated_snr_db=40.0), language(), "psi")
    assert (understood.kind, understood.why) == ("unclear", why)
    assert sorted(values(understood)) == sorted(candidates)


def test_candidates_come_nearest_first() -> None:
    understood = understand(heard("one five", ("one nine", 0.9), ("one four", 0.3)), language(), "psi")
    assert values(understood) == [15, 14, 19]
