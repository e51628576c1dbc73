"""What the lists find although it was learnt that surely something else is meant: "a few good pumps on the foot valve"
sets no parking brake, "the warning for low air" fills no tank.

Law: it only takes away, and only what neither the sentence nor the words that were found by themselves are likely to
say; so what is said in one breath with something else stays.
"""

from __future__ import annotations

from collections.abc import Mapping

from assistant.review.recital.kinds import denial_of
from assistant.review.recital.learnt import likely
from assistant.review.recital.sentences import Sentence
from assistant.review.recital.sheet import Places

_CONDITIONS = frozenset({"if", "when", "once", "unless", "any", "anything", "whenever", "or", "otherwise"})
_SURELY, _HARDLY, _ALONE, _VERDICT = 0.6, 0.05, 0.1, 0.3
"""How likely something else has to be, and how unlikely what was found in the whole sentence and by itself; how likely
a verdict is that may undo one. Chosen on writers that were not learnt from."""


def is_other(sentence: Sentence, places: Places, *kinds: str) -> bool:
    """Whether the words at `places` are surely of none of these kinds ("facts.parked")."""
    known = likely(sentence.words)
    if known.get(kinds[0], 1.0) <= _HARDLY and _names(sentence, places, known):
        return True
    if max(known.values()) < _SURELY or any(known.get(kind, 1.0) > _HARDLY for kind in kinds):
        return False
    alone = likely(sentence.words[min(places) : max(places) + 1])
    return all(alone[kind] <= _ALONE for kind in kinds)


def _names(sentence: Sentence, places: Places, known: Mapping[str, float]) -> bool:
    """Whether some of the words belong to the name of a test and surely mean that: "tug on the parking brake"."""
    return any(one.places & places and known.get(f"names.{one.test}", 0.0) >= _SURELY for one in sentence.mentions)


def is_of_rule(sentence: Sentence, places: Places, *, passes: bool) -> bool:
    """Whether a word of judgement says what a rule is and not what came of the test: "anything over four fails",
    "85 and up is what passes"."""
    first, end = sentence.clause(places)
    if any(first <= one.first < end and one.way != "at" for one in sentence.amounts):
        return True
    return not passes and is_conditional(sentence)


def is_no_verdict(sentence: Sentence, places: Places) -> bool:
    """Whether words that may say that a test did not pass hardly say it here: "this seat is too low". Those that say
    it plainly ("it flunked") always do."""
    if sentence.amounts or sentence.words[min(places)] != "too":
        return False
    known = likely(sentence.words)
    return known.get(denial_of("judgement"), 1.0) + known.get("judgements.all", 1.0) < _VERDICT


def is_conditional(sentence: Sentence) -> bool:
    """Whether it says what follows from what may be: "anything under 100 and we are parked"."""
    return bool(_CONDITIONS & set(sentence.words))
