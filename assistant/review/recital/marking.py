"""From a talk to marks: what was said, said wrong, denied or left out, each with its words and their time.

Law: pure. Required words and the negation check first, numbers exactly; the last thing said about an element counts, so
a trainee may correct himself. A bound counts only for the test that it was said about.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from assistant.core.events import Heard, Marked, Record, TestId
from assistant.core.limit import Limit
from assistant.review.recital.amounts import Amount
from assistant.review.recital.bounding import agrees, is_of_pressure_or_time
from assistant.review.recital.inferring import LIMITS, has_the_figures, infer
from assistant.review.recital.observing import Given
from assistant.review.recital.scheme import Scheme
from assistant.review.recital.sentences import Sentence, sentences
from assistant.review.recital.tokens import Token, tokens_of
from assistant.review.recital.wording import wordings

MarkState = Literal["said", "missed", "wrong", "denied"]


_LOWEST = 10  # a smaller number without a unit is no reading: "my shift started at five"


class Talk(Record):
    """A talk that was marked. `given`: the readings and answers in it. `named`: when each test was first named."""

    marks: tuple[Marked, ...]
    given: tuple[Given, ...]
    judged: tuple[tuple[TestId, bool], ...]
    named: dict[TestId, int]

    def mark(self, element: str) -> Marked:
        return next(mark for mark in self.marks if mark.element == element)


def mark(scheme: Scheme, heard: Sequence[Heard]) -> Talk:
    """The marks of everything that was heard, one for each element of the scheme, in its order."""
    marker = _Marker(scheme)
    tokens = [token for utterance in heard for token in tokens_of(utterance)]
    return marker.go(tokens)


class _Marker:
    def __init__(self, scheme: Scheme) -> None:
        self._scheme = scheme
        self._made: dict[str, Marked] = {}
        self._given: list[Given] = []
        self._judged: dict[TestId, bool] = {}
        self._named: dict[TestId, int] = {}
        self._ids = {element.id for element in scheme.elements}
        self._ahead: dict[TestId, tuple[Sentence, frozenset[int]]] = {}
        self._found = False  # something in the sentence that is being marked

    def go(self, tokens: Sequence[Token]) -> Talk:
        carried: TestId | None = None
        for sentence in sentences(tokens, self._scheme.tests):
            if sentence.asks:
                continue
            self._found = False
            self._facts(sentence)
            for part in (self._names, self._actions, self._numbers, self._answers, self._judgements):
                part(sentence, carried)
            carried = sentence.mentions[-1].test if sentence.mentions else carried
            if not self._found:
                carried = self._inferred(sentence, carried)
        marks = (self._made.get(one.id) or Marked(element=one.id, state="missed") for one in self._scheme.elements)
        return Talk(marks=tuple(marks), given=tuple(self._given), judged=tuple(self._judged.items()), named=self._named)

    def _put(self, element: str, sentence: Sentence, places: frozenset[int], state: MarkState) -> None:
        self._found = True
        if element in self._ids:
            words = sentence.text(places) if element.endswith(".limit") else sentence.around(places)
            at_ms = sentence.at_ms(places)
            self._made[element] = Marked(element=element, state=state, words=words, at_ms=at_ms)

    def _facts(self, sentence: Sentence) -> None:
        for fact, wording in wordings().facts.items():
            for places in sentence.states(wording)[:1]:
                state: MarkState = "denied" if sentence.denies(places) else "said"
                before = self._made.get(f"fact.{fact}")
                if before is None or before.state != state:  # the first time counts, as long as nothing denies it
                    self._put(f"fact.{fact}", sentence, places, state)

    def _names(self, sentence: Sentence, carried: TestId | None) -> None:
        del carried
        for one in sentence.mentions:
            before = self._made.get(f"{one.test}.name")
            if before is None or before.state != "said":
                self._put(f"{one.test}.name", sentence, one.places, "denied" if one.denied else "said")
            if not one.denied:
                self._named.setdefault(one.test, sentence.at_ms(one.places))

    def _actions(self, sentence: Sentence, carried: TestId | None) -> None:
        """An action belongs to the test that is talked about, or, said between two tests, to the next one as well."""
        named = [one.test for one in sentence.mentions]
        fresh = carried is None or f"{carried}.action" not in self._made
        for test in self._scheme.tests:
            if test in named and test in self._ahead and f"{test}.action" not in self._made:
                self._act(test, *self._ahead[test])
            for places in sentence.said(wordings().tests[test].action):
                if sentence.is_name(places) or self._is_rule(test, sentence, places):
                    continue
                if sentence.test_at(min(places), carried) == test:
                    self._act(test, sentence, places)
                    break
                if not named and not (fresh and self._takes(carried, sentence)):
                    self._ahead[test] = (sentence, places)
        if named:
            self._ahead.clear()

    def _is_rule(self, test: TestId, sentence: Sentence, places: frozenset[int]) -> bool:
        """Whether these words say what a brake has to bear ("it has to hold against a gentle pull"), not what is
        done."""
        ruled = sentence.said(wordings().tests[test].limit)
        return any(sentence.in_one_clause({*places, *rule}) for rule in ruled)

    def _takes(self, test: TestId | None, sentence: Sentence) -> bool:
        return test is not None and bool(sentence.said(wordings().tests[test].action))

    def _act(self, test: TestId, sentence: Sentence, places: frozenset[int]) -> None:
        denied = sentence.denies(places)
        self._put(f"{test}.action", sentence, places, "denied" if denied else "said")
        limit = self._scheme.limit(test)
        if limit is not None and limit.quantity == "loss" and not denied:
            held = [one.value for one in sentence.amounts if one.measure == "s"]
            self._given += [Given(test=test, hold_s=seconds, at_ms=sentence.at_ms(places)) for seconds in held[:1]]

    def _answers(self, sentence: Sentence, carried: TestId | None) -> None:
        """Limits and readings that are words: it held, it was felt, it stopped straight."""
        for test in self._scheme.tests:
            wording = wordings().tests[test]
            ruled = [
                places
                for places in sentence.said(wording.limit)
                if sentence.test_at(min(places), carried) == test and not sentence.near(("intent",), places, 8)
            ]
            for places in ruled[:1]:
                self._put(f"{test}.limit", sentence, places, "denied" if sentence.denies(places) else "said")
            if ruled:
                continue
            for ways, good in ((wording.failing, False), (wording.reading, True)):
                for places in sentence.said(ways)[:1]:
                    if self._answers_to(test, sentence, places, carried):
                        answer = good != sentence.denies(places)
                        self._put(f"{test}.reading", sentence, places, "said")
                        self._given.append(Given(test=test, answer=answer, at_ms=sentence.at_ms(places)))

    def _answers_to(self, test: TestId, sentence: Sentence, places: frozenset[int], carried: TestId | None) -> bool:
        """Whether these words tell what came of the test, and not only name it or say what is looked for."""
        meant = sentence.test_at(min(places), carried) == test
        return meant and not sentence.is_name(places) and not sentence.near(("intent",), places, 8)

    def _judgements(self, sentence: Sentence, carried: TestId | None) -> None:
        for passes, ways in ((False, wordings().judgement.bad), (True, wordings().judgement.good)):
            for places in sentence.said(ways)[:1]:
                test = sentence.test_at(min(places), carried)
                if test is None:
                    continue
                denied = sentence.denies(places)
                self._put(f"{test}.judgement", sentence, places, "denied" if denied else "said")
                if not denied:
                    self._judged[test] = passes
                self._ahead.clear()
                return

    # --- numbers ------------------------------------------------------------------------------------------------------

    def _numbers(self, sentence: Sentence, carried: TestId | None) -> None:
        by_test: dict[TestId, list[Amount]] = {}
        for amount in sentence.amounts:
            test = sentence.test_at(amount.first, carried)
            if test is not None and is_of_pressure_or_time(amount, sentence):
                by_test.setdefault(test, []).append(amount)
        for test, said in by_test.items():
            limit = self._scheme.limit(test)
            if limit is not None and limit.quantity != "answer":
                ruling = [one for one in said if self._rules(one, sentence, test)]
                self._readings(test, limit, [one for one in said if one not in ruling], sentence)
                if ruling:  # the time that a loss is watched belongs to it
                    self._bounds(test, limit, [one for one in said if one in ruling or one.measure == "s"], sentence)

    def _rules(self, amount: Amount, sentence: Sentence, test: TestId) -> bool:
        """Whether a number states a limit rather than a reading."""
        places = range(amount.first, amount.end)
        if sentence.near(("ruled",) if amount.way == "at" else ("ruled", "must"), places, 12):
            return True
        if sentence.near(("past",), places, 8):
            return False
        spanned = amount.measure == "s" and any(one.high is not None for one in sentence.amounts)
        return amount.way != "at" or amount.before or (spanned and test == "build-up")

    def _bounds(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        places = frozenset(at for amount in said for at in range(amount.first, amount.end))
        if any(amount.denied and amount.way != "at" for amount in said) or sentence.denies(places):
            self._put(f"{test}.limit", sentence, places, "denied")
            return
        right = agrees(limit, said, self._scheme.setup.unit, test)
        if right is None:  # half of it, or without a direction: no mark of its own
            return
        self._put(f"{test}.limit", sentence, places, "said" if right else "wrong")

    def _readings(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        """Numbers beside a word that tells a reading."""
        cued = [one for one in said if sentence.near(("cue",), range(one.first, one.end), 5) and not one.denied]
        self._give(test, limit, cued, sentence)

    def _give(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        wanted: Callable[[Amount], bool] = (
            (lambda one: one.measure == "s")
            if limit.quantity == "time"
            else (lambda one: one.measure in ("psi", "kPa") or (one.measure == "plain" and one.value >= _LOWEST))
        )
        for amount in filter(wanted, said):
            places = frozenset(range(amount.first, amount.end))
            self._put(f"{test}.reading", sentence, places, "said")
            self._given.append(
                Given(
                    test=test,
                    value=amount.value,
                    high=amount.high,
                    unit="kPa" if amount.measure == "kPa" else self._scheme.setup.unit,
                    seconds=limit.quantity == "time",
                    at_ms=sentence.at_ms(places),
                )
            )

    # --- what stands in no list ---------------------------------------------------------------------------------------

    def _inferred(self, sentence: Sentence, test: TestId | None) -> TestId | None:
        """Mark what was learnt to be meant by such a sentence; the test that is talked about from now on."""
        told = infer(self._scheme, sentence, test)
        if told is None or told.room == "talk":
            return test
        places = frozenset(range(len(sentence.words)))
        if told.room == "names":
            named: TestId = next(one for one in self._scheme.tests if one == told.key)
            self._put(f"{named}.name", sentence, places, "said")
            self._named.setdefault(named, sentence.at_ms(places))
            return named
        if told.room == "facts":
            self._put(f"fact.{told.key}", sentence, places, "said")
        elif told.room == "denied":
            self._put(_denied(told.key, test), sentence, places, "denied")
        elif test is not None:
            self._of_test(told.room, test, sentence, places)
        return test

    def _of_test(self, room: str, test: TestId, sentence: Sentence, places: frozenset[int]) -> None:
        limit = self._scheme.limit(test)
        if room == "judgements":
            self._put(f"{test}.judgement", sentence, places, "said")
            self._judged[test] = True
        elif room == "actions":
            self._act(test, sentence, places)
        elif limit is not None and room == "limits":
            right = limit.quantity == "answer" or has_the_figures(limit, sentence.amounts, self._scheme.setup.unit)
            if right is not None:
                self._put(f"{test}.limit", sentence, places, "said" if right else "wrong")
        elif limit is not None and limit.quantity == "answer":
            self._put(f"{test}.reading", sentence, places, "said")
            self._given.append(Given(test=test, answer=True, at_ms=sentence.at_ms(places)))
        elif limit is not None:
            self._give(test, limit, sentence.amounts, sentence)


def _denied(key: str, test: TestId | None) -> str:
    """The element that is denied: a judgement, an action or a limit of the test, or a fact."""
    if key == "judgement":
        return f"{test}.judgement"
    if key.startswith("action-"):
        return f"{test}.action"
    return f"{test}.limit" if key in LIMITS else f"fact.{key}"
