"""Whether a sentence with figures states its limit or denies it, by what was learnt of the whole sentence.

Law: only where that is sure does it count against the words beside the figures; whether the figures are those of the
limit is compared exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assistant.core.events import Unit
from assistant.core.limit import Limit
from assistant.review.recital.bounding import has_the_figures
from assistant.review.recital.directions import OPPOSITE
from assistant.review.recital.doubting import is_bare, is_plain
from assistant.review.recital.figures import Amount, Way
from assistant.review.recital.kinds import denial_of, kind_of, reading_of
from assistant.review.recital.learnt import likely
from assistant.review.recital.retracting import retracted
from assistant.review.recital.sentences import Sentence
from assistant.review.recital.sheet import MarkState

WAYS: Mapping[str, Way] = {"within": "range", "at-least": "min", "at-most": "max", "loss": "max", "time": "max"}
"""Kinds of limit -> which way they bound."""
SURE, SURER, TURNED, DENIED = 0.6, 0.9, 0.8, 0.9
"""From where on a bound is believed that the words beside its figures did not show; or that they show the other way
round ("anything under 100" may be what fails or what suits me); a limit that the lists took for a denial; and the
denial of one that they found. Chosen on writers that were not learnt from. Of 1350 limits in as many ways as five
writers could think of 1119 were found with the first three, 1102 with the last as well, and of 1350 denials and
opposites of them 267 and 202 were taken for limits."""
_UNSURE = 0.5  # less likely in itself it is never sure


def weighed(
    limit: Limit, found: MarkState | None, said: Sequence[Amount], sentence: Sentence, unit: Unit
) -> MarkState | None:
    """What is made of a limit of which the words beside the figures say `found`."""
    if sentence.voids or retracted(sentence.words) or is_bare(sentence):
        return found
    states, denies = _learnt(sentence.words, kind_of(limit))
    if found == "wrong" and _reads(limit, sentence.words) >= SURER:
        return None
    if found == "said":
        return "denied" if denies >= DENIED and not is_plain(sentence.words) else found
    if states < (TURNED if found == "denied" else _needed(limit, said)) or _is_reading(limit, said, sentence):
        return found
    right = has_the_figures(limit, said, unit)
    return found if right is None else "said" if right else "wrong"


def _needed(limit: Limit, said: Sequence[Amount]) -> float:
    """How likely this limit has to be with these figures beside their words."""
    way = WAYS[kind_of(limit)]
    return SURER if OPPOSITE[way] != way and any(one.way == OPPOSITE[way] for one in said) else SURE


def _learnt(words: tuple[str, ...], kind: str) -> tuple[float, float]:
    """How likely a sentence states the bounds of such a limit, and not the opposite or their denial (0 where it is not
    likely to in itself); and how likely it states the opposite or denies them."""
    known = likely(words, kind)
    states, denies = known[f"limits.{kind}"], known[denial_of(f"limits.{kind}")]
    return (states / (states + denies) if states >= _UNSURE else 0.0), denies


def _is_reading(limit: Limit, said: Sequence[Amount], sentence: Sentence) -> bool:
    """Whether the clause of the figures by itself surely tells a reading: "it cut out at 125, that passes"."""
    clause = slice(*sentence.clause(range(said[0].first, said[-1].end)))
    return _reads(limit, sentence.words[clause]) >= SURE


def _reads(limit: Limit, words: tuple[str, ...]) -> float:
    """How likely these words tell a reading that such a limit has: "it did it by 115"."""
    return likely(words, kind_of(limit))[f"readings.{reading_of(limit)}"]
