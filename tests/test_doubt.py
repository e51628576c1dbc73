"""The rule of doubt, as tables: what evidence lets a number in, and what makes it be asked again."""

from __future__ import annotations

from functools import cache

import pytest

from assistant.cli import build
from assistant.core.doubt import CLIPPED, LOUD_SNR_DB, NEEDED_NATS, NEEDED_NATS_ALIKE, QUIET_DB, doubt, needed
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


@pytest.mark.parametrize("alike", [False, True])
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
    alike: bool, behind_the_limit: float | None, snr_db: float | None, expected: str | None
) -> None:
    behind = None if behind_the_limit is None else needed(alike) + behind_the_limit
    assert doubt(heard(snr_db=snr_db), alike, behind) == expected


@pytest.mark.parametrize("behind", [None, 0.0, 99.0])
def test_lost_sound_is_a_doubt_whatever_the_rivals(behind: float | None) -> None:
    assert doubt(heard(gap=True), False, behind) == "gap"


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
    assert doubt(heard(**evidence), False, None) == expected
    understood = understand(heard("eighty four", **evidence), language(), "psi")
    assert understood.why == expected
    assert (understood.readings == ()) == (expected is not None)


def test_what_is_typed_is_believed_whatever_the_rivals() -> None:
    assert doubt(heard(by="typed", gap=True), True, 0.0) is None


def test_a_number_with_a_twin_needs_more() -> None:
    assert needed(True) == NEEDED_NATS_ALIKE >= needed(False) == NEEDED_NATS > 0


@pytest.mark.parametrize(
    ("text", "rivals", "why", "candidates"),
    [
        ("one eighty", [("one eighteen", 1.0)], "doubtful", [118]),
        ("one ninety", [("one nineteen", NEEDED_NATS_ALIKE - 0.1), ("nineteen", 0.2)], "doubtful", [119, 19]),
        ("one eighty", [("one eighteen", NEEDED_NATS_ALIKE)], "out of range", [180]),
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
