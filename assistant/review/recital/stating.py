"""Whether a sentence states the bounds of a limit or denies them, by what was learnt of sentences with figures.

Law: figures play no part here; whether they are those of the limit is compared exactly elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from assistant.core.limit import Limit
from assistant.review.recital.directions import OPPOSITE
from assistant.review.recital.figures import Amount, Way
from assistant.review.recital.kinds import denial_of, kind_of, reading_of
from assistant.review.recital.learnt import likely

WAYS: Mapping[str, Way] = {"within": "range", "at-least": "min", "at-most": "max", "loss": "max", "time": "max"}
"""Kinds of limit -> which way they bound."""
SURE, SURER, TURNED, DENIED = 0.6, 0.9, 0.8, 0.9
"""From where on a bound is believed that the words beside its figures did not show; or that they show the other way
round ("anything under 100" may be what fails or what suits me); a limit that the lists took for a denial; and the
denial of one that they found. Chosen on writers that were not learnt from. Of 1350 limits in as many ways as five
writers could think of 1119 were found with the first three, 1102 with the last as well, and of 1350 denials and
opposites of them 267 and 202 were taken for limits."""
_UNSURE = 0.5  # less likely in itself it is never sure


def needed(limit: Limit, said: Sequence[Amount]) -> float:
    """How likely this limit has to be with these figures beside their words."""
    way = WAYS[kind_of(limit)]
    return SURER if OPPOSITE[way] != way and any(one.way == OPPOSITE[way] for one in said) else SURE


class Bounding(NamedTuple):
    """How likely a sentence states the bounds of a limit, and not the opposite or their denial (0 where it is
    not likely to in itself); and how likely it states the opposite or denies them."""

    states: float
    denies: float


def bounding(words: tuple[str, ...], limit: Limit) -> Bounding:
    """What was learnt of this sentence. `limit`: one with figures."""
    kind = kind_of(limit)
    known = likely(words, kind)
    states, denies = known[f"limits.{kind}"], known[denial_of(kind)]
    return Bounding(states / (states + denies) if states >= _UNSURE else 0.0, denies)


def is_reading(words: tuple[str, ...], limit: Limit) -> bool:
    """Whether these words by themselves surely tell a reading: "it cut out at 125, that passes" states no limit."""
    return likely(words, kind_of(limit)).get(f"readings.{reading_of(limit)}", 0.0) >= SURE
