"""Whether a sentence states the bounds of a limit or denies them, by what was learnt of sentences with figures.

Law: figures play no part here; whether they are those of the limit is compared exactly elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assistant.core.limit import Limit
from assistant.review.recital.directions import OPPOSITE
from assistant.review.recital.figures import Amount, Way
from assistant.review.recital.kinds import kind_of
from assistant.review.recital.learnt import bounds_likely

WAYS: Mapping[str, Way] = {"within": "range", "at-least": "min", "at-most": "max", "loss": "max", "time": "max"}
"""Kinds of limit -> which way they bound."""
SURE, SURER = 0.6, 0.9
"""From where on a bound is believed that the words beside its figures did not show; or that they show the other way
round: "anything under 100" may be what fails or what suits me. Chosen, as what follows, on four writers that were not
learnt from then: of 1000 limits 739 were found without this, 823 with it, of 1000 wrong ones 822 and 869, and of 400
denials and opposite limits 10 and 8 counted as limits (`tests.bench.recital_rules --unlearnt` with the rules of
handbook, newcomer, mechanic and country)."""
_OTHER = 0.5  # more likely to be something else with figures
_LEAST, _UNSURE = 0.27, 0.5  # less likely in itself it is never sure


def needed(limit: Limit, said: Sequence[Amount]) -> float:
    """How likely this limit has to be with these figures beside their words."""
    way = WAYS[kind_of(limit)]
    return SURER if OPPOSITE[way] != way and any(one.way == OPPOSITE[way] for one in said) else SURE


def stated(words: tuple[str, ...], limit: Limit) -> float:
    """How likely it states bounds in the way of this limit, and not the opposite or their denial; 0 where it rather
    tells a reading. `limit`: one with figures."""
    known, way = bounds_likely(words), WAYS[kind_of(limit)]
    if known["other"] > _OTHER:
        return 0.0
    opposite = known[f"limits.{OPPOSITE[way]}"] if OPPOSITE[way] != way else 0.0
    states = known[f"limits.{way}"]
    likely = states / (states + known[f"denied.{way}"] + opposite)
    return likely if states >= _LEAST else min(likely, _UNSURE)
