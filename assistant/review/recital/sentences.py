"""One sentence of the talk: its words, what they mean, which test each place belongs to, and what is denied in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

from assistant.core.events import TestId
from assistant.review.recital.amounts import FURTHEST, amounts, is_outside, negates, opposite
from assistant.review.recital.figures import Amount
from assistant.review.recital.naming import Mention, settled, told_apart
from assistant.review.recital.negation import (
    ALWAYS,
    NOT,
    clauses,
    denied,
    is_elliptic,
    is_question,
    is_unlooked,
    retracted,
    unreal,
    voids,
    was_so,
)
from assistant.review.recital.tokens import Token
from assistant.review.recital.wording import CLOSE, FactWording, Found, Ways, concepts_in, statements, wordings

_ENDS = (".", "?")
_OPENERS = {"next", "now", "then", "after", "finally"}
_SUBJECTS = {"i", "we", "she", "he", "it", "you", "they", "truck", "vehicle", "rig", "nobody", "that"}
_SUPPOSE = {"if", "when", "should", "unless"}  # "if it is over 140 then it fails" is one sentence
_BEFORE_NOW = {"is", "are", "have", "has", "by", "until", "till", "for", "from", "right", "just", "not", "but"}
_REPAIRS = {"sorry", "correction", "scratch", "oops"}
_NEAR = 4
_FAR = 8
_LETS_GO = {",", "else", "or", "and", "unless", "without"}  # what comes after is said of something else
_ALLOWS = {
    "allowed", "permitted", "accepted", "acceptable", "tolerated", "legal", "okay", "ok", "fine", "good", "pass", "do",
}  # fmt: skip
_WHEN = {"if", "when", "for"}
_CONDITIONS = {"if", "when", "once"}
_BEGIN_CONDITIONS = {
    "anything", "everything", "any", "more", "less", "over", "under", "above", "below", "higher", "lower", "should",
}  # fmt: skip
_SHORT = 4  # "parking brake: set" is one statement
_RESTING = ("held", "straight", "forbidden", "no_swerve")


class Sentence:
    """`tokens` without the one that ends it; `asks`: it ended as a question. `tests`: those that can be named."""

    def __init__(self, tokens: Sequence[Token], asks: bool, tests: Sequence[TestId]) -> None:
        self.tokens = tuple(tokens)
        self.asks = asks
        self.words = tuple(token.text for token in tokens)
        self._tests = tests

    @cached_property
    def found(self) -> Found:
        return concepts_in(self.words)

    @cached_property
    def amounts(self) -> tuple[Amount, ...]:
        return amounts(self.words)

    @cached_property
    def clauses(self) -> list[tuple[int, int]]:
        return clauses(self.words)

    @cached_property
    def _bounding(self) -> frozenset[int]:
        """Negations that belong to a bound ("no more than")."""
        used, left = set(), 0
        for amount in self.amounts:
            outside = amount.way == "range" and is_outside(self.words[left : amount.first])
            if (outside or amount.way in ("min", "max", "late")) and not amount.denied:
                before = [at for at in range(max(left, amount.first - FURTHEST), amount.first) if self._bounds(at)]
                used |= set(before[-1:])
            left = amount.end
        return frozenset(used)

    def _bounds(self, at: int) -> bool:
        """Whether a negation can be part of a bound."""
        return negates(self.words, at) and not voids(self.words, at)

    def _of(self, concepts: Iterable[str]) -> frozenset[int]:
        """Where these concepts stand: a negation of theirs ("not move") is their own."""
        hits = (hit for concept in concepts for hit in self.found.get(concept, ()))
        return frozenset(at for hit in hits for at in range(*hit))

    def said(self, ways: Ways) -> list[frozenset[int]]:
        """Where one of the ways stands, inside one clause or across two that follow each other."""
        return statements(ways, self.found)

    def states(self, wording: FactWording) -> list[frozenset[int]]:
        """Where a fact is stated: in one clause, with nothing beside it that makes something else of it."""
        told = [*self.said(wording.ways), *statements(wording.close, self.found, CLOSE)]
        return [places for places in told if self.in_one_clause(places) and not self.near(wording.unless, places)]

    def in_one_clause(self, places: Iterable[int]) -> bool:
        places = list(places)
        breaks = ALWAYS if len(self.words) <= _SHORT else {*ALWAYS, ","}
        return not breaks & set(self.words[min(places) : max(places)])

    def near(self, concepts: Iterable[str], places: Iterable[int], reach: int = _NEAR) -> bool:
        """Whether one of the concepts stands beside these words, in their clause."""
        first, end = self._clause(places)
        low, high = max(first, min(places) - reach), min(end, max(places) + reach + 1)
        hits = (hit for concept in concepts for hit in self.found.get(concept, ()))
        return any(low <= hit.first and hit.end <= high and not set(range(*hit)) <= set(places) for hit in hits)

    def _contrast(self, places: Iterable[int]) -> frozenset[int]:
        """Negations of what something is not, behind a statement of what it is: "straight, not crooked"."""
        behind = range(max(places) + 1, len(self.words) - 1)
        return frozenset(at for at in behind if self.words[at] in NOT and self.words[at - 1] in (",", "and", "but"))

    def denies_rule(self, places: Iterable[int]) -> bool:
        """Whether a rule without figures is denied."""
        places = list(places)
        return self.denies({*places, *self._contrast(places)}, beside=_RESTING[:2])

    def denies(self, places: Iterable[int], *, naming: bool = False, beside: Sequence[str] = ()) -> bool:
        """Whether what is said at these places is denied. `naming`: a test is named, so "must not move" is about it, a
        question may name it, and so may who is about to do it. `beside`: concepts whose own negation denies nothing of
        it ("chocked and can not roll")."""
        if not naming and is_question(self.words):
            return True
        used = self._bounding | set(places) | self._of(_RESTING if naming else beside)
        return denied(self.words, used, self._clause(places), now=not naming)

    def turns(self, places: Iterable[int]) -> bool:
        """Whether one negation stands just before these words and no other in their clause, so that the opposite is
        said ("no reason to fail it"); elsewhere it may belong to something else ("it fails, no doubt")."""
        places = set(places)
        first, end = self._clause(places)
        negations = [at for at in range(first, end) if self.words[at] in NOT and at not in places]
        return len(negations) == 1 and 0 < min(places) - negations[0] <= _NEAR

    def unsaid(self, places: Iterable[int], *, beside: Sequence[str] = ()) -> bool:
        """Whether what is said at these places is denied, or taken back behind it, or only imagined, or past. `beside`:
        as for `denies`."""
        places = list(places)
        return (
            self.denies(places, beside=("secured", *beside))
            or self.takes_back(places)
            or unreal(self.words, self._clause(places))
            or was_so(self.words, self._clause(places))
        )

    def takes_back(self, places: Iterable[int]) -> bool:
        """Whether what comes behind these places takes back what they say."""
        _, end = self._clause(places)
        following = (self.words[span[0] : span[1]] for span in self.clauses if span[0] >= end)
        return retracted(self.words) or any(map(is_elliptic, following))

    @cached_property
    def bounds(self) -> tuple[Amount, ...]:
        """The amounts as what has to be: what must not be is turned round."""
        refused = self.refused(self.amounts)
        return tuple(opposite(one) if one in refused else one for one in self.amounts)

    @cached_property
    def is_unreal(self) -> bool:
        """Whether it says as a whole what is only imagined, or past."""
        whole = (0, len(self.words))
        return unreal(self.words, whole) or was_so(self.words, whole) or retracted(self.words)

    @cached_property
    def is_unlooked(self) -> bool:
        """Whether it says that nobody looked."""
        return is_unlooked(self.words)

    def refused(self, said: Sequence[Amount]) -> list[Amount]:
        """Those of the amounts that say what must not be; of "less than 55 or more than 75", both or none."""
        refused = [one for one in said if self.refuses(one)]
        outside = [one.way for one in sorted(said, key=lambda one: one.value)] == ["max", "min"]
        return list(said) if outside and (refused or self._is_refusal) else refused

    @cached_property
    def _is_refusal(self) -> bool:
        return bool(self.found.get("refused")) and not any(
            self.words[at] in NOT and at not in self._bounding for at in range(len(self.words))
        )

    def insists(self, amount: Amount) -> bool:
        """Whether all else is refused: "unless it is 140 or less it fails"."""
        if "unless" not in self.words[: amount.first]:
            return False
        at = self.words.index("unless")
        left = {*range(at), *range(amount.end, len(self.words))}
        hits = (hit.first for hit in self.found.get("refused", ()))
        return any(hit in left for hit in hits) or any(self.words[one] in NOT for one in left)

    def conditional(self, amount: Amount) -> bool:
        """Whether the amount is said of what may happen: "if it goes over 140", "anything over 140"."""
        first, _ = self._clause(range(amount.first, amount.end))
        before = self.words[first : amount.first]
        return bool(_CONDITIONS & set(before)) or bool(before and before[0] in _BEGIN_CONDITIONS)

    def _fails_then(self, amount: Amount) -> bool:
        """Whether what follows from a condition is a failure: "it is a fail", "i am not taking her out"."""
        _, own = self._clause(range(amount.first, amount.end))
        then = range(amount.end, next((span[1] for span in self.clauses if span[0] >= own), own))
        nots = [at for at in then if self.words[at] in NOT and at not in self._bounding]
        near = then[: FURTHEST + 1]
        hits = [hit for hit in self.found.get("refused", ()) if hit.first in near]
        if hits:
            return not any(0 < hit.first - at <= _NEAR for hit in hits for at in nots)
        told = any(_SUBJECTS & set(self.words[max(amount.end, at - 2) : at]) for at in nots)  # "i am not"
        return told and not any(voids(self.words, at) for at in nots)

    def refuses(self, amount: Amount) -> bool:
        """Whether what is said is what must not be: "over 140 fails", "i fail it if it goes over 140"."""
        if self.insists(amount):
            return False
        if self.conditional(amount) and self._fails_then(amount):
            return True
        first, end = self._clause(range(amount.first, amount.end))
        if amount.way in ("min", "max") and self._disallowed(amount, first, end):
            return True
        if any(self.words[at] in NOT and at not in self._bounding for at in range(first, end)):
            return False
        hits = [hit for hit in self.found.get("refused", ()) if first <= hit.first and hit.end <= end]
        after = [self.words[amount.end : hit.first] for hit in hits if 0 <= hit.end - amount.end <= _FAR]
        before = [self.words[hit.end : amount.first] for hit in hits if 0 <= amount.first - hit.first <= _FAR]
        return any(not _LETS_GO & set(words) for words in after) or any(_WHEN & set(words) for words in before)

    def _disallowed(self, amount: Amount, first: int, end: int) -> bool:
        """Whether the words behind a bound forbid it: "more than 3 is not allowed"."""
        after = self.words[amount.end : end]
        at = next((at for at, word in enumerate(after) if word in NOT), None)
        if at is None or "," in after[:at] or self._bounding & set(range(first, amount.first)):
            return False
        return bool(_ALLOWS & set(after[at + 1 : at + 4]))

    def text(self, places: Iterable[int]) -> str:
        """The words from the first to the last of these places."""
        places = list(places)
        return " ".join(self.words[min(places) : max(places) + 1])

    def around(self, places: Iterable[int]) -> str:
        """The same with the words beside them in their clause, so that a reader sees what was meant."""
        places = list(places)
        first, end = self._clause(places)
        low, high = max(first, min(places) - _NEAR), min(end, max(places) + _NEAR + 1)
        return " ".join(self.words[low:high]).replace(" ,", ",")

    def at_ms(self, places: Iterable[int]) -> int:
        return self.tokens[min(places)].start_ms

    def _clause(self, places: Iterable[int]) -> tuple[int, int]:
        places = list(places)
        touched = [span for span in self.clauses if span[0] <= max(places) and min(places) < span[1]]
        return (touched[0][0], touched[-1][1]) if touched else (min(places), max(places) + 1)

    @cached_property
    def mentions(self) -> tuple[Mention, ...]:
        """The tests that are named, in order."""
        named = [
            Mention(test, places, self.denies(places, naming=True))
            for test in self._tests
            for places in self.said(wordings().tests[test].names)
            if not self.near(wordings().tests[test].unless, places, 2)
        ]
        known = settled(told_apart(named), self.words, self._tests, self.found, figures=bool(self.amounts))
        return tuple(sorted(known, key=lambda one: (one.at, one.test)))

    def is_name(self, places: frozenset[int]) -> bool:
        """Whether these words only name a test."""
        return any(places <= one.places for one in self.mentions)

    def test_at(self, place: int, carried: TestId | None) -> TestId | None:
        """The test that a place belongs to: the last one named before it, else the first one after it, else the one
        that was being talked about."""
        before = [one.test for one in self.mentions if one.at <= place]
        after = [one.test for one in self.mentions if one.at > place]
        return before[-1] if before else after[0] if after else carried


def sentences(tokens: Iterable[Token], tests: Sequence[TestId]) -> list[Sentence]:
    """The sentences of a talk. In speech no stop is heard: a word that opens something new ends one, too."""
    found: list[Sentence] = []
    held: list[Token] = []

    def close(asks: bool) -> None:
        if held:
            found.append(Sentence(held, asks, tests))
            held.clear()

    told = list(tokens)
    for at, token in enumerate(told):
        if token.text in _ENDS:
            close(token.text == "?")
            continue
        if token.text in _REPAIRS and not _is_last(told[at + 1 :]):
            # what follows takes the place of what was said; its "no" denies nothing
            while held and held[-1].text in ("no", ","):
                held.pop()
            close(False)
            continue
        if token.text in _OPENERS and len(held) > 3 and not _goes_on(held, token):
            close(False)
        held.append(token)
    close(False)
    return found


def _is_last(after: Sequence[Token]) -> bool:
    """Whether nothing follows that could take the place of what was said: "no, scratch that"."""
    return bool(after) and after[0].text == "that" and (len(after) == 1 or after[1].text in _ENDS)


def _goes_on(held: Sequence[Token], opener: Token) -> bool:
    """Whether a word that opens something new elsewhere belongs to what was begun: "if it is over 140 then it fails",
    "the wheels of the truck are now chocked"."""
    if opener.text == "then":
        return held[0].text in _SUPPOSE
    return opener.text == "now" and held[-1].text in _BEFORE_NOW
