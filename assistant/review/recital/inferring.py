"""What a sentence says beside what the lists of wordings find in it, by what was learnt.

Law: what the lists found stays, but for a statement that is told to be a denial. Only what can be meant at this place
is looked at (an action, a limit or a reading belongs to the test that is being talked about), and what may as well be a
denial is nothing. Its figures are then compared exactly, as everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from assistant.core.events import TestId
from assistant.review.recital.doubting import is_bare, is_conditional
from assistant.review.recital.figures import Amount
from assistant.review.recital.kinds import ACTIONS, denial_of, kind_of, reading_of
from assistant.review.recital.learnt import ABOUT, learnt, likely
from assistant.review.recital.negation import NOT, declines, is_denial, is_unseen, puts_off
from assistant.review.recital.refusing import bounds
from assistant.review.recital.retracting import retracted
from assistant.review.recital.scheme import Scheme
from assistant.review.recital.sentences import Places, Sentence
from assistant.review.recital.sheet import Sheet
from assistant.review.recital.stating import WAYS

SURE = 0.3
BESIDE = 0.5
DENIED = 0.6
SURER = 0.9
NOBODY = 0.6
"""How likely a kind has to be before it is believed: by itself; beside what the lists have found in the sentence; a
denial by itself; where a negation stands in the sentence, or where the opposite needs none ("there is traffic ahead");
that nobody or nothing is there, in a sentence with a word for it. Chosen on writers that were not learnt from."""
NEXT, JUDGED, AGAIN = 2.0, 2.0, 0.3
"""How much likelier the test is that follows the one being talked about, any test once that one was judged, and one or
a fact that was said before."""
MAY_BE = 0.3
"""More likely than this share of a statement, its denial may be meant."""
_MAY_DENY = ("limits", "readings", "talk")  # "no more than five", "it did not move"
_STATED_NEGATED = ("facts", "judgements")  # "no one is near"; "i do not tug" is no action, however likely
_RULED = ("limits", "readings")
_WORDED = ("held", "felt", "straight")
_ALLOWS = {"can", "may", "might", "could"}
_FREELY = {"fine", "normal", "okay", "ok", "allowed", "permitted", "acceptable", "usual", "common", "natural"}
_OBLIGES = {"must", "should", "has", "have", "need", "needs", "only", "got"}
NOBODY_FACTS = ("clear", "way-clear")  # "there is nobody near"
_STATED = ("facts", "actions", "judgements")
_JUDGED_BY = ("all", "judgement")
_FORM_WORD = 3  # a longer word may be one that matters
_RID = ("clear", "free", "nobody")


class Inferred(NamedTuple):
    """`key`: the test that is named, the fact, or what kind of limit, action or reading it is."""

    room: str
    key: str


def infer(sheet: Sheet, sentence: Sentence, test: TestId | None) -> Inferred | None:
    """What this sentence says, said while `test` is being talked about; None when that is not clear."""
    beside = bool(sheet.fresh)  # the lists have found something in it
    limit = sheet.scheme.limit(test) if test is not None else None
    if limit is not None and limit.quantity != "answer" and is_bare(sentence):
        return Inferred("readings", reading_of(limit))
    known = likely(sentence.words, kind_of(limit) if limit is not None else "")
    meant = {kind: known.get(kind, 0.0) * _expected(kind, sheet, test) for kind in _possible(sheet.scheme, test)}
    best = max(meant, key=meant.__getitem__)
    told = Inferred(*best.split(".", 1))
    naming = told.room == "names"
    negated = declines(sentence.words) if naming else sentence.is_negated(begins=told.room == "actions")
    plain = not negated and _points(told.key, bounds(sentence))  # the words around the figures tell the two apart
    if plain and told.room == "denied":
        return None
    if told.room != "denied" and meant.get(denial_of(best), 0.0) > MAY_BE * meant[best]:
        return None
    rid = any(sentence.found.get(concept) for concept in _RID)
    if told.room in _STATED and sentence.is_unreal:
        return None
    if told.room in _RULED and (sentence.voids or retracted(sentence.words) or _is_permission(told.key, sentence)):
        return None
    if told.key in _JUDGED_BY and (is_conditional(sentence) or not _in_known_words(sentence)):
        return None
    if told.room == "facts" and told.key in NOBODY_FACTS and (is_unseen(sentence.words) or puts_off(sentence.words)):
        return None
    if len(sentence.words) == 1 and known.get(best, 0.0) < DENIED:
        return None  # "stop" may be what can't be meant here
    enough = _enough(told, negated=negated, beside=beside, rid=rid)
    return told if enough is not None and meant[best] >= enough * sum(meant.values()) else None


def _in_known_words(sentence: Sentence) -> bool:
    """Whether none of the words is a strange one: one that was never heard may turn round what the others say ("that
    one flunks"), or all of it is talk."""
    return all(learnt().knows(word) for word in sentence.words if len(word) > _FORM_WORD)


def _points(kind: str, said: tuple[Amount, ...]) -> bool:
    """Whether the words beside the figures bound them in the direction of this kind of limit."""
    ways = {one.way for one in said if (one.measure == "s") == (kind == "time")}
    if any(one.denied for one in said):
        return False
    return ways == {WAYS.get(kind)} or (kind == "within" and ways == {"min", "max"})


def _enough(told: Inferred, *, negated: bool, beside: bool, rid: bool) -> float | None:
    """How likely it has to be; None: it is not believed at all. `rid`: a word says that nobody or nothing is there."""
    nobody = told.room == "facts" and told.key in NOBODY_FACTS
    if told.room == "denied":
        found = SURER if told.key in (*ABOUT, *NOBODY_FACTS) else BESIDE  # the words that were found tell more
        return found if beside else DENIED
    if nobody:
        return NOBODY if rid else SURER
    if negated and told.room not in _MAY_DENY:
        return DENIED if told.room in _STATED_NEGATED else None
    return BESIDE if beside else SURE


def _is_permission(kind: str, sentence: Sentence) -> bool:
    """Whether it only allows what a rule without figures forbids: "it can roll a bit"."""
    words = set(sentence.words)
    allows = bool(_ALLOWS & words) or bool(_FREELY & words and {"is", "are"} & words)
    return kind in _WORDED and allows and not (NOT | _OBLIGES) & words


def _possible(scheme: Scheme, test: TestId | None) -> Iterator[str]:
    yield from (f"names.{one}" for one in scheme.tests)
    facts = [element.fact for element in scheme.elements if element.fact]
    yield from (f"{room}.{fact}" for room in ("facts", "denied") for fact in facts)
    yield from ("judgements.all", denial_of("judgements.all"), "talk.all")
    if test is None:
        return
    yield f"actions.{ACTIONS[test]}"
    yield denial_of(f"actions.{ACTIONS[test]}")
    limit = scheme.limit(test)
    if limit is not None:
        yield f"limits.{kind_of(limit)}"
        yield denial_of(f"limits.{kind_of(limit)}")
        yield f"readings.{reading_of(limit)}"


def _expected(kind: str, sheet: Sheet, test: TestId | None) -> float:
    """How much likelier this is said here than elsewhere."""
    room, _, key = kind.partition(".")
    if room not in ("names", "facts"):
        return 1.0
    element = f"{key}.name" if room == "names" else f"fact.{key}"
    before = sheet.made.get(element)
    if before is not None and before.state == "said" and element not in sheet.fresh:
        return AGAIN
    tests = sheet.scheme.tests
    follows = tests.index(test) + 1 if test in tests else 0
    after = JUDGED if room == "names" and f"{test}.judgement" in sheet.made else 1.0
    return after * (NEXT if room == "names" and tests[follows : follows + 1] == (key,) else 1.0)


def mark_inferred(sheet: Sheet, sentence: Sentence, test: TestId | None) -> TestId | None:
    """Mark what was learnt to be meant by a sentence said while `test` was talked about; the test that is talked about
    from now on."""
    told = infer(sheet, sentence, test)
    if told is None or told.room == "talk" or _is_told(sheet, told, test, sentence):
        return test
    places = frozenset(range(len(sentence.words)))
    if told.room == "names":
        named: TestId = next(one for one in sheet.scheme.tests if one == told.key)
        sheet.name(named, sentence, places)
        return named
    if told.room == "facts":
        sheet.fact(told.key, sentence, places, "said")
    elif told.room == "denied":
        _mark_denied(sheet, told, test, sentence)
    elif test is not None:
        _mark_of_test(sheet, told.room, test, sentence, places)
    return test


def _mark_denied(sheet: Sheet, told: Inferred, test: TestId | None, sentence: Sentence) -> None:
    places = frozenset(range(len(sentence.words)))
    element = _element(told, test)
    if element.startswith("fact."):
        sheet.fact(told.key, sentence, places, "denied")
    elif not (told.key == "judgement" and sheet.fails(test)):
        sheet.put(element, sentence, places, "denied")


def _is_told(sheet: Sheet, told: Inferred, test: TestId | None, sentence: Sentence) -> bool:
    """Whether the lists have found this in the sentence, or something that can't be so beside it. A denial beside what
    they have found is believed only of that, and not where they have weighed one already."""
    if told.room == "names":
        return any(element.endswith(".name") for element in sheet.fresh)
    found = sheet.fresh.get(_element(told, test))
    if told.room != "denied" or not sheet.fresh:
        return found is not None
    return found != "said" or any(map(is_denial, sentence.words))


def _mark_of_test(sheet: Sheet, room: str, test: TestId, sentence: Sentence, places: Places) -> None:
    limit = sheet.scheme.limit(test)
    if room == "judgements":
        sheet.judge(test, True, sentence, places)
    elif room == "actions":
        sheet.act(test, sentence, places)
    elif limit is not None and room == "limits":
        if limit.quantity == "answer":  # of those with figures `stating` tells more
            sheet.put(f"{test}.limit", sentence, places, "said")
    elif limit is not None and limit.quantity == "answer":
        sheet.answer(test, True, sentence, places)
    elif limit is not None:
        sheet.give(test, limit, sentence.amounts, sentence)


def _element(told: Inferred, test: TestId | None) -> str:
    """What is meant, as an element: of the test that is talked about, or a fact."""
    if told.room == "denied":
        return _denied(told.key, test)
    return f"fact.{told.key}" if told.room == "facts" else f"{test}.{told.room[:-1]}"


def _denied(key: str, test: TestId | None) -> str:
    """The element that is denied: a judgement, an action or a limit of the test, or a fact."""
    if key == "judgement":
        return f"{test}.judgement"
    if key.startswith("action-"):
        return f"{test}.action"
    return f"{test}.limit" if key in ABOUT else f"fact.{key}"
