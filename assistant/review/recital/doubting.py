"""What the lists find although it was learnt that surely something else is meant: "a few good pumps on the foot valve"
sets no parking brake, "the warning for low air" fills no tank, "not one pound short of full" denies nothing.

Law: what neither the sentence nor the words that were found by themselves are likely to say is taken away, and only
where the whole sentence surely says the opposite it is turned round; so what is said in one breath with something else
stays.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assistant.core.numbers import value_of
from assistant.review.recital.kinds import about, denial_of
from assistant.review.recital.learnt import likely
from assistant.review.recital.negation import is_denial
from assistant.review.recital.sentences import Places, Sentence

_CONDITIONS = frozenset({"if", "when", "once", "unless", "any", "anything", "whenever", "or", "otherwise"})
_PLAIN = frozenset({
    ",", ".", "a", "above", "air", "and", "at", "be", "below", "between", "but", "can", "come", "comes", "drop",
    "drops", "from", "gauge", "go", "goes", "good", "has", "have", "higher", "hundred", "i", "in", "is", "it", "knob",
    "least", "less", "limit", "limits", "lose", "loses", "loss", "lower", "max", "maximum", "may", "min", "minimum",
    "minute", "more", "most", "must", "needle", "needs", "no", "not", "okay", "one", "or", "over", "p", "pass",
    "passes", "per", "pound", "pounds", "pressure", "psi", "s", "second", "seconds", "should", "so", "take", "takes",
    "than", "that", "the", "this", "to", "um", "under", "valve", "warning", "we", "will", "within", "you",
})  # fmt: skip
_SAYS_NOTHING = frozenset({",", ".", "um", "uh", "and", "no", "more", "question", "questions", "doubt"})
"""Beside a figure; "and no more" alone bounds it, which the amounts know."""
_HEDGES = frozenset({"think", "believe", "guess", "suppose"})
_RULES = frozenset({"must", "should", "shall", "may", "will", "need", "needs", "supposed"})
_SURELY, _HARDLY, _ALONE, _VERDICT, _TURNS, _PASSED = 0.6, 0.05, 0.1, 0.2, 0.85, 0.95
"""How likely something else has to be, and how unlikely what was found in the whole sentence and by itself; how likely
a verdict is that may undo one; how likely what turns round what was found, and a failure. Chosen on writers that were
not learnt from."""


def is_other(sentence: Sentence, places: Places, *kinds: str) -> bool:
    """Whether the words at `places` are surely of none of these kinds ("facts.parked")."""
    known = likely(sentence.words)
    if known.get(kinds[0], 1.0) <= _HARDLY and _names(sentence, places, known):
        return True
    if max(known.values()) < _SURELY or any(known.get(kind, 1.0) > _HARDLY for kind in kinds):
        return False
    alone = likely(sentence.words[min(places) : max(places) + 1])
    return all(alone[kind] <= _ALONE for kind in kinds)


def is_denied(sentence: Sentence, places: Places, kind: str, *, listed: bool) -> bool:
    """Whether what was found of this kind is denied: as the lists have it (`listed`), where the sentence does not
    surely say the opposite. What is taken back, imagined or past stays so."""
    if listed:
        stays = sentence.is_undone(places) or not any(map(is_denial, sentence.words))
        return stays or _how_likely(kind, sentence, kind) < _TURNS
    return not is_plain(sentence.words) and _how_likely(denial_of(kind), sentence, kind) >= _TURNS


def _how_likely(meant: str, sentence: Sentence, kind: str) -> float:
    """Where it is said about what `kind` is said about."""
    return likely(sentence.words, about(kind)).get(meant, 0.0)


def is_surely_passed(sentence: Sentence) -> bool:
    """Whether a sentence in which something failed or is not good surely says that the test passes: "would i fail it,
    no, it is good", and not "i do not think it fails", "we must not fail" or "not good, it fails". A failure that is
    taken for a pass does more harm than a pass that is not."""
    if sentence.slighting or not (_HEDGES | _RULES).isdisjoint(sentence.words):
        return False
    negated = any(map(is_denial, sentence.words))
    return negated and likely(sentence.words).get("judgements.all", 0.0) >= _PASSED


def is_plain(words: Iterable[str]) -> bool:
    """Whether all of it is in the plainest words of a rule or a verdict, in which the lists are exact."""
    return all(word in _PLAIN or value_of((word,)) is not None for word in words)


def is_bare(sentence: Sentence) -> bool:
    """Whether it is a figure and nothing else: "126 psi", "126, no question", which is what the needle shows."""
    said = sentence.amounts
    told = {at for one in said for at in range(one.first, one.end)}
    rest = {word for at, word in enumerate(sentence.words) if at not in told}
    return len(said) == 1 and said[0].way == "at" and rest <= _SAYS_NOTHING


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
    return known.get(denial_of("judgements.all"), 1.0) + known.get("judgements.all", 1.0) < _VERDICT


def is_conditional(sentence: Sentence) -> bool:
    """Whether it says what follows from what may be: "anything under 100 and we are parked"."""
    return bool(_CONDITIONS & set(sentence.words))
