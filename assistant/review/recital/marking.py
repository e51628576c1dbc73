"""From a talk to marks: what was said, said wrong, denied or left out, each with its words and their time.

Law: pure. Required words and the negation check first, numbers exactly; the last thing said about an element counts, so
a trainee may correct himself. A bound counts only for the test that it was said about.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from assistant.core.events import Heard, Marked, Record, TestId, Unit
from assistant.core.limit import Limit
from assistant.review.recital.amounts import Amount
from assistant.review.recital.observing import Given
from assistant.review.recital.scheme import Scheme, bounds_of, span_of
from assistant.review.recital.sentences import Sentence, sentences
from assistant.review.recital.tokens import Token, tokens_of
from assistant.review.recital.wording import wordings

MarkState = Literal["said", "missed", "wrong", "denied"]
_FALLS: tuple[TestId, ...] = (
    "governor-cut-in",
    "low-air-warning",
    "trailer-supply-pop-out",
    "parking-valve-pop-out",
)
_AFTER_NUMBER = frozenset({
    "and", "psi", "on", "so", "that", "which", "then", "by", "it", "the", "again", "ok", "okay", "with", "in",
    "or", "when", ",", "pounds", "from", "primary", "secondary", "before", "after", "at", "within", "as", "now",
    "for", "while", "good", "fine", "i", "we", "this", "but", "to", "if", "until", "because", "pass", "passes",
    "than", "per", "according", "here", "there", "right", "no", "during", "over", "between", "loss",
    "drop", "maximum", "minimum", "limit", "exactly", "each",
})  # fmt: skip


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

    def go(self, tokens: Sequence[Token]) -> Talk:
        carried: TestId | None = None
        for sentence in sentences(tokens, self._scheme.tests):
            if sentence.asks:
                continue
            self._facts(sentence)
            for part in (self._names, self._actions, self._numbers, self._answers, self._judgements):
                part(sentence, carried)
            carried = sentence.mentions[-1].test if sentence.mentions else carried
        marks = (self._made.get(one.id) or Marked(element=one.id, state="missed") for one in self._scheme.elements)
        return Talk(marks=tuple(marks), given=tuple(self._given), judged=tuple(self._judged.items()), named=self._named)

    def _put(self, element: str, sentence: Sentence, places: frozenset[int], state: MarkState) -> None:
        if element in self._ids:
            words, at_ms = sentence.text(places), sentence.at_ms(places)
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
        for test in self._scheme.tests:
            if test in named and test in self._ahead and f"{test}.action" not in self._made:
                self._act(test, *self._ahead[test])
            for places in sentence.said(wordings().tests[test].action):
                if sentence.test_at(min(places), carried) == test:
                    self._act(test, sentence, places)
                    break
                if not named:
                    self._ahead[test] = (sentence, places)
        if named:
            self._ahead.clear()

    def _act(self, test: TestId, sentence: Sentence, places: frozenset[int]) -> None:
        self._put(f"{test}.action", sentence, places, "denied" if sentence.denies(places) else "said")

    def _answers(self, sentence: Sentence, carried: TestId | None) -> None:
        """Limits and readings that are words: it held, it was felt, it stopped straight."""
        for test in self._scheme.tests:
            wording = wordings().tests[test]
            ruled = [
                places for places in sentence.said(wording.limit) if sentence.test_at(min(places), carried) == test
            ]
            for places in ruled[:1]:
                self._put(f"{test}.limit", sentence, places, "denied" if sentence.denies(places) else "said")
            if ruled:
                continue
            for places in sentence.said(wording.reading)[:1]:
                if sentence.test_at(min(places), carried) == test and not sentence.near(("intent",), places, 8):
                    denied = sentence.denies(places)
                    self._put(f"{test}.reading", sentence, places, "said")
                    self._given.append(Given(test=test, answer=not denied, at_ms=sentence.at_ms(places)))

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
            if test is not None and _is_of_pressure_or_time(amount, sentence):
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
        timed = amount.measure == "s" and (test == "build-up")
        return amount.way != "at" or amount.before or timed

    def _bounds(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        places = frozenset(at for amount in said for at in range(amount.first, amount.end))
        if any(amount.denied and amount.way != "at" for amount in said) or sentence.denies(places):
            self._put(f"{test}.limit", sentence, places, "denied")
            return
        right = _compare(limit, said, self._scheme.setup.unit, test)
        if right is None:  # half of it, or without a direction: no mark of its own
            return
        self._put(f"{test}.limit", sentence, places, "said" if right else "wrong")

    def _readings(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        wanted: Callable[[Amount], bool] = (
            (lambda one: one.measure == "s") if limit.quantity == "time" else (lambda one: one.measure != "s")
        )
        for amount in filter(wanted, said):
            places = frozenset(range(amount.first, amount.end))
            if sentence.near(("cue",), places, 5) and not amount.denied:
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


def _is_of_pressure_or_time(amount: Amount, sentence: Sentence) -> bool:
    """A number of something else ("thirty people", "route sixty six") is followed by what it is of."""
    if amount.measure in ("psi", "kPa", "s"):
        return True
    after = sentence.words[amount.end : amount.end + 1]
    return amount.measure == "plain" and (not after or after[0] in _AFTER_NUMBER)


def _compare(limit: Limit, said: Sequence[Amount], unit: Unit, test: TestId) -> bool | None:
    """Whether the bounds that were said are those of the limit; None: too little of them was said to tell."""
    timed = limit.quantity == "time"
    seconds = [one for one in said if one.measure == "s"]
    others = [one for one in said if one.measure != "s"]
    if timed:
        span = [one for one in others if one.high is not None]
        if any(not _spans(one, limit, unit) for one in span):
            return False
        others = seconds
    elif limit.quantity == "loss":
        held = bounds_of(limit, unit).hold_s
        if any(one.value != held and one.value >= 30 for one in seconds):
            return False
    if not others:
        return None
    return _agree(limit, others, unit, test)


def _agree(limit: Limit, said: Sequence[Amount], unit: Unit, test: TestId) -> bool | None:
    lows: list[tuple[Amount, float]] = []
    highs: list[tuple[Amount, float]] = []
    for one in said:
        way = _way(one, limit, test)
        if way == "range" and one.high is not None:
            lows.append((one, one.value))
            highs.append((one, one.high))
        elif way == "min":
            lows.append((one, one.value))
        elif way == "max":
            highs.append((one, one.value))
        else:
            wanted = bounds_of(limit, _unit(one, unit))
            if one.value not in wanted.low + wanted.high:
                return False
    ok = all(value in bounds_of(limit, _unit(one, unit)).low for one, value in lows[-1:])
    ok = ok and all(value in bounds_of(limit, _unit(one, unit)).high for one, value in highs[-1:])
    if not ok:
        return False
    wanted = bounds_of(limit, unit)
    complete = bool(lows) == bool(wanted.low) and bool(highs) == bool(wanted.high)
    return True if complete else None


def _way(amount: Amount, limit: Limit, test: TestId) -> str:
    if amount.way in ("range", "min", "max"):
        return amount.way
    if limit.quantity in ("loss", "time"):
        return "max"
    if amount.before:
        return "min" if test in _FALLS else "max"
    return "at"


def _spans(amount: Amount, limit: Limit, unit: Unit) -> bool:
    wanted = span_of(limit, _unit(amount, unit))
    return amount.value in wanted.low and amount.high in wanted.high


def _unit(amount: Amount, unit: Unit) -> Unit:
    return "kPa" if amount.measure == "kPa" else "psi" if amount.measure == "psi" else unit
