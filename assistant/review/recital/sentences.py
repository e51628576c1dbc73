"""One sentence of the talk: its words, what they mean, which test each place belongs to, and what is denied in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

from assistant.core.events import TestId
from assistant.review.recital.amounts import FURTHEST, amounts, is_outside, negates
from assistant.review.recital.behind import trailing
from assistant.review.recital.figures import Amount
from assistant.review.recital.naming import Mention, settled, told_apart
from assistant.review.recital.negation import (
    ALWAYS,
    NOT,
    clauses,
    denied,
    is_question,
    starts_anew,
    voids,
)
from assistant.review.recital.retracting import is_elliptic, retracted, unreal, was_so
from assistant.review.recital.tokens import Token
from assistant.review.recital.wording import CLOSE, FactWording, Found, Ways, concepts_in, statements, wordings

Places = frozenset[int]
"""Where in a sentence the words stand."""
NEAR = 4
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
    def bounding(self) -> frozenset[int]:
        """Negations that belong to a bound ("no more than")."""
        used, left = set(), 0
        for amount in self.amounts:
            outside = amount.way == "range" and is_outside(self.words[left : amount.first])
            if (outside or amount.way in ("min", "max", "late", "early")) and not amount.denied:
                before = [at for at in range(max(left, amount.first - FURTHEST), amount.first) if self._bounds(at)]
                used |= set(before[-1:])
            left = amount.end
        closing = trailing(self.words) if self.amounts else None
        return frozenset(used if closing is None else {*used, closing[1]})

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

    def near(self, concepts: Iterable[str], places: Iterable[int], reach: int = NEAR) -> bool:
        """Whether one of the concepts stands beside these words, in their clause."""
        first, end = self.clause(places)
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
        used = self.bounding | set(places) | self._of(_RESTING if naming else beside)
        return denied(self.words, used, self.clause(places), now=not naming)

    def turns(self, places: Iterable[int]) -> bool:
        """Whether one negation stands just before these words and no other in their clause, so that the opposite is
        said ("no reason to fail it"); elsewhere it may belong to something else ("it fails, no doubt", "no good it
        fails")."""
        places = set(places)
        first, end = self.clause(places)
        negations = [at for at in range(first, end) if self.words[at] in NOT and at not in places]
        if len(negations) != 1 or not 0 < min(places) - negations[0] <= NEAR:
            return False
        return not starts_anew(self.words[negations[0] : min(places)])

    @cached_property
    def slighting(self) -> frozenset[int]:
        """Where something is called not good: a failure beside it ("not good, brakes failed") is not denied by it."""
        hits = self.found.get("good", ())
        return frozenset(
            at for hit in hits if self.words[max(0, hit.first - 1)] in NOT for at in range(hit.first - 1, hit.end)
        )

    def unsaid(self, places: Iterable[int], *, beside: Sequence[str] = ()) -> bool:
        """Whether what is said at these places is denied, or taken back behind it, or only imagined, or past. `beside`:
        as for `denies`."""
        places = list(places)
        return self.denies(places, beside=("secured", *beside)) or self.is_undone(places)

    def is_undone(self, places: Iterable[int]) -> bool:
        """Whether it is taken back behind these places, or only imagined, or past."""
        span = self.clause(places)
        return self.takes_back(places) or unreal(self.words, span) or was_so(self.words, span)

    def takes_back(self, places: Iterable[int]) -> bool:
        """Whether what comes behind these places takes back what they say."""
        _, end = self.clause(places)
        following = (self.words[span[0] : span[1]] for span in self.clauses if span[0] >= end)
        return retracted(self.words) or any(map(is_elliptic, following))

    def is_negated(self, *, begins: bool) -> bool:
        """Whether it only asks, or one of its clauses (`begins`: the first one) is denied by what belongs to no
        bound."""
        looked = self.clauses[:1] if begins else self.clauses
        return is_question(self.words) or any(denied(self.words, self.bounding, span) for span in looked)

    @cached_property
    def voids(self) -> bool:
        """Whether it says that something does not matter: "no matter if it rolls"."""
        return any(voids(self.words, at) for at in range(len(self.words)))

    @cached_property
    def is_unreal(self) -> bool:
        """Whether it says as a whole what is only imagined, or past."""
        whole = (0, len(self.words))
        return unreal(self.words, whole) or was_so(self.words, whole) or retracted(self.words)

    def text(self, places: Iterable[int]) -> str:
        """The words from the first to the last of these places."""
        places = list(places)
        return " ".join(self.words[min(places) : max(places) + 1])

    def around(self, places: Iterable[int]) -> str:
        """The same with the words beside them in their clause, so that a reader sees what was meant."""
        places = list(places)
        first, end = self.clause(places)
        low, high = max(first, min(places) - NEAR), min(end, max(places) + NEAR + 1)
        return " ".join(self.words[low:high]).replace(" ,", ",")

    def at_ms(self, places: Iterable[int]) -> int:
        return self.tokens[min(places)].start_ms

    def clause(self, places: Iterable[int]) -> tuple[int, int]:
        """Where the clauses of these places begin and end."""
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
            if not self.near(wordings().tests[test].unless, places, 3)
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
