"""The sheet of a recital while it is being marked: what was made of each element, the readings, the judgements.

Law: the last thing that was said about an element counts, so a trainee may correct himself; every mark keeps its words
and their time.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from assistant.core.events import Marked, Record, TestId
from assistant.core.limit import Limit
from assistant.review.recital.doubting import is_denied
from assistant.review.recital.figures import Amount
from assistant.review.recital.kinds import ACTIONS, about, meant_by
from assistant.review.recital.learnt import likely
from assistant.review.recital.observing import Given
from assistant.review.recital.scheme import Scheme
from assistant.review.recital.sentences import Places, Sentence

MarkState = Literal["said", "missed", "wrong", "denied"]
_ENDED_BY = {"chocked": "chocks-out", "parked": "released", "engine-on": "engine-off"}
_PASSING = ("pedal",)
"""What holds for one test only, so that nothing said of a later one denies it."""
_AFFIRMED = 0.3
"""How likely it has to be that a sentence says what was denied before."""
_LOWEST = 10  # a smaller number without a unit is no reading: "my shift started at five"


class Talk(Record):
    """A talk that was marked. `given`: the readings and answers in it. `named`: when each test was first named."""

    marks: tuple[Marked, ...]
    given: tuple[Given, ...]
    judged: tuple[tuple[TestId, bool], ...]
    named: dict[TestId, int]

    def mark(self, element: str) -> Marked:
        return next(mark for mark in self.marks if mark.element == element)


class Sheet:
    """`made`: the marks so far, by element. `fresh`: those that were put since it was last emptied; what is found that
    was said before is not put again."""

    def __init__(self, scheme: Scheme) -> None:
        self.scheme = scheme
        self.made: dict[str, Marked] = {}
        self.fresh: dict[str, MarkState] = {}
        self._given: list[Given] = []
        self._judged: dict[TestId, bool] = {}
        self._named: dict[TestId, int] = {}
        self._elements = {element.id: element for element in scheme.elements}
        self._sentences = 0
        self._denied_in: dict[str, int] = {}
        self._said_beside: dict[str, int] = {}

    def begin(self) -> None:
        """A new sentence; one that said nothing of the check does not count."""
        self._sentences += bool(self.fresh)
        self.fresh.clear()

    def talk(self) -> Talk:
        marks = (self.made.get(one.id) or Marked(element=one.id, state="missed") for one in self.scheme.elements)
        return Talk(marks=tuple(marks), given=tuple(self._given), judged=tuple(self._judged.items()), named=self._named)

    def put(self, element: str, sentence: Sentence, places: Places, state: MarkState) -> None:
        """A mark for an element; one that the scheme does not have is passed over."""
        self.fresh[element] = state
        if state == "denied":
            self._denied_in[element] = self._sentences
        if element in self._elements and not (state == "said" and self.stays_denied(element, sentence)):
            words = sentence.text(places) if element.endswith(".limit") else sentence.around(places)
            at_ms = sentence.at_ms(places)
            self.made[element] = Marked(element=element, state=state, words=words, at_ms=at_ms)

    def stays_denied(self, element: str, sentence: Sentence) -> bool:
        """Whether an element was denied and this sentence does not surely say it: "let us tug on the parking brake"
        does not set one that was left off. What did not pass, passes only in the next sentence, since what is said
        later may be of another test."""
        denied_in = self._denied_in.get(element)
        if denied_in is None:
            return False
        told = self._elements[element]
        if told.part == "judgement":
            return self._sentences - denied_in > 1
        meant = meant_by(told, self.scheme.limit(told.test))
        return likely(sentence.words, about(meant)).get(meant, 1.0) < _AFFIRMED

    def fact(self, fact: str, sentence: Sentence, places: Places, state: MarkState) -> None:
        """What has been made sure of; the first time counts, as long as nothing denies it. That something does not hold
        any more, once a test was talked about, says its opposite: "the engine is not running" that it is off."""
        before = self.made.get(f"fact.{fact}")
        if state == "denied" and before is not None and before.state == "said" and fact in _ENDED_BY and self._named:
            fact, state = _ENDED_BY[fact], "said"
            before = self.made.get(f"fact.{fact}")
        if state == "denied" and self.is_past(fact):
            return
        if state == "said" and before is None:
            self._said_beside[fact] = len(self._named)
        if before is None or before.state != state:
            self.put(f"fact.{fact}", sentence, places, state)

    def is_past(self, fact: str) -> bool:
        """Whether a fact was said for a test, and another one has been named since, so that nothing denies it."""
        return fact in _PASSING and self._said_beside.get(fact, len(self._named)) != len(self._named)

    def name(self, test: TestId, sentence: Sentence, places: Places, *, denied: bool = False) -> None:
        """A test is named; the first time counts, unless it was a denial."""
        before = self.made.get(f"{test}.name")
        if before is None or before.state != "said":
            self.put(f"{test}.name", sentence, places, "denied" if denied else "said")
        if not denied:
            self._named.setdefault(test, sentence.at_ms(places))

    def act(self, test: TestId, sentence: Sentence, places: Places) -> None:
        """What is done for a test; of a hold also how long it is."""
        denied = is_denied(sentence, places, f"actions.{ACTIONS[test]}", listed=sentence.unsaid(places))
        self.put(f"{test}.action", sentence, places, "denied" if denied else "said")
        limit = self.scheme.limit(test)
        if limit is not None and limit.quantity == "loss" and not denied:
            held = [one.value for one in sentence.amounts if one.measure == "s"]
            self._given += [Given(test=test, hold_s=seconds, at_ms=sentence.at_ms(places)) for seconds in held[:1]]

    def answer(self, test: TestId, good: bool, sentence: Sentence, places: Places) -> None:
        """What was felt or seen. `good`: as it has to be."""
        self.put(f"{test}.reading", sentence, places, "said")
        self._given.append(Given(test=test, answer=good, at_ms=sentence.at_ms(places)))

    def give(self, test: TestId, limit: Limit, said: Iterable[Amount], sentence: Sentence) -> None:
        """Those of the amounts that can be a reading of the test."""
        for amount in said:
            if not _is_reading(amount, limit):
                continue
            places = frozenset(range(amount.first, amount.end))
            self.put(f"{test}.reading", sentence, places, "said")
            self._given.append(
                Given(
                    test=test,
                    value=amount.value,
                    high=amount.high,
                    unit="kPa" if amount.measure == "kPa" else self.scheme.setup.unit,
                    seconds=limit.quantity == "time",
                    at_ms=sentence.at_ms(places),
                )
            )

    def fails(self, test: TestId | None) -> bool:
        """Whether the trainee has said that it does not pass."""
        return test is not None and self._judged.get(test) is False

    def judge(self, test: TestId, passes: bool, sentence: Sentence, places: Places, *, denied: bool = False) -> None:
        """Whether the trainee says that it passes."""
        element = f"{test}.judgement"
        if passes and not denied and self.stays_denied(element, sentence):
            return
        self.put(element, sentence, places, "denied" if denied else "said")
        if not passes:
            self._denied_in[element] = self._sentences
        if denied:
            self._judged.pop(test, None)
        else:
            self._judged[test] = passes


def _is_reading(amount: Amount, limit: Limit) -> bool:
    if limit.quantity == "time":
        return amount.measure == "s"
    return amount.measure in ("psi", "kPa") or (amount.measure == "plain" and amount.value >= _LOWEST)
