"""From a talk to marks: what was said, said wrong, denied or left out, each with its words and their time.

Law: pure. Required words and the negation check first, numbers exactly; the last thing said about an element counts, so
a trainee may correct himself. A bound counts only for the test that it was said about.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.core.events import Heard, TestId
from assistant.core.limit import Limit
from assistant.core.plan import Fact
from assistant.review.recital.amounts import opposite
from assistant.review.recital.bounding import agrees, is_of_pressure_or_time
from assistant.review.recital.doubting import (
    is_conditional,
    is_denied,
    is_no_verdict,
    is_of_rule,
    is_other,
    is_surely_passed,
)
from assistant.review.recital.figures import Amount
from assistant.review.recital.inferring import NOBODY_FACTS, mark_inferred
from assistant.review.recital.kinds import ACTIONS, denial_of, kind_of
from assistant.review.recital.negation import is_question, is_unlooked
from assistant.review.recital.refusing import conditional, insists, refused
from assistant.review.recital.scheme import Scheme
from assistant.review.recital.sentences import Places, Sentence
from assistant.review.recital.sheet import MarkState, Sheet, Talk
from assistant.review.recital.splitting import sentences
from assistant.review.recital.stating import weighed
from assistant.review.recital.tokens import Token, tokens_of
from assistant.review.recital.wording import wordings

_FULL: tuple[Fact, ...] = ("charged", "unloaded", "rebuilt")  # "the pressure allowed, 20 all the way up to 45" is none


def mark(scheme: Scheme, heard: Sequence[Heard]) -> Talk:
    """The marks of everything that was heard, one for each element of the scheme, in its order."""
    marker = _Marker(scheme)
    tokens = [token for utterance in heard for token in tokens_of(utterance)]
    return marker.go(tokens)


class _Marker:
    def __init__(self, scheme: Scheme) -> None:
        self._scheme = scheme
        self._sheet = Sheet(scheme)
        self._ahead: dict[TestId, tuple[Sentence, Places]] = {}

    def go(self, tokens: Sequence[Token]) -> Talk:
        carried: TestId | None = None
        for sentence in sentences(tokens, self._scheme.tests):
            if sentence.asks:
                continue
            self._sheet.begin()
            self._facts(sentence)
            for part in (self._names, self._actions, self._numbers, self._answers, self._judgements):
                part(sentence, carried)
            carried = sentence.mentions[-1].test if sentence.mentions else carried
            carried = mark_inferred(self._sheet, sentence, carried)
        return self._sheet.talk()

    def _facts(self, sentence: Sentence) -> None:
        if sentence.amounts and is_conditional(sentence):
            return
        ranged = any(one.way == "range" for one in sentence.amounts)
        for fact, wording in wordings().facts.items():
            if ranged and fact in _FULL:
                continue
            for places in sentence.states(wording)[:1]:
                nobody = fact in NOBODY_FACTS
                unsaid = sentence.unsaid(places, beside=("nobody", "free") if nobody else ())
                denied = unsaid or (nobody and is_unlooked(sentence.words))
                if is_other(sentence, places, f"facts.{fact}", *([denial_of(f"facts.{fact}")] if denied else [])):
                    continue
                denied = is_denied(sentence, places, f"facts.{fact}", listed=denied)
                self._sheet.fact(fact, sentence, places, "denied" if denied else "said")

    def _names(self, sentence: Sentence, carried: TestId | None) -> None:
        del carried
        for one in sentence.mentions:
            self._sheet.name(one.test, sentence, one.places, denied=one.denied)

    def _actions(self, sentence: Sentence, carried: TestId | None) -> None:
        """An action belongs to the test that is talked about, or, said between two tests, to the next one as well."""
        named = [one.test for one in sentence.mentions]
        fresh = carried is None or f"{carried}.action" not in self._sheet.made
        for test in self._scheme.tests:
            if test in named and test in self._ahead and f"{test}.action" not in self._sheet.made:
                self._sheet.act(test, *self._ahead[test])
            for places in sentence.said(wordings().tests[test].action):
                if sentence.is_name(places) or self._is_rule(test, sentence, places):
                    continue
                if is_other(sentence, places, f"actions.{ACTIONS[test]}"):
                    continue
                if sentence.test_at(min(places), carried) == test:
                    self._sheet.act(test, sentence, places)
                    break
                if not named and not (fresh and self._takes(carried, sentence)):
                    self._ahead[test] = (sentence, places)
        if named:
            self._ahead.clear()

    def _is_rule(self, test: TestId, sentence: Sentence, places: Places) -> bool:
        """Whether these words say what a brake has to bear ("it has to hold against a gentle pull"), not what is
        done."""
        ruled = sentence.said(wordings().tests[test].limit)
        return any(sentence.in_one_clause({*places, *rule}) for rule in ruled)

    def _takes(self, test: TestId | None, sentence: Sentence) -> bool:
        return test is not None and bool(sentence.said(wordings().tests[test].action))

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
                denied = self._denies_rule(test, sentence, places)
                self._sheet.put(f"{test}.limit", sentence, places, "denied" if denied else "said")
            if ruled:
                continue
            for ways, good in ((wording.failing, False), (wording.reading, True)):
                for places in sentence.said(ways)[:1]:
                    if self._answers_to(test, sentence, places, carried):
                        self._sheet.answer(test, good != sentence.denies(places), sentence, places)

    def _denies_rule(self, test: TestId, sentence: Sentence, places: Places) -> bool:
        limit, listed = self._scheme.limit(test), sentence.denies_rule(places)
        return listed if limit is None else is_denied(sentence, places, f"limits.{kind_of(limit)}", listed=listed)

    def _answers_to(self, test: TestId, sentence: Sentence, places: Places, carried: TestId | None) -> bool:
        """Whether these words tell what came of the test, and not only name it or say what is looked for."""
        meant = sentence.test_at(min(places), carried) == test
        return meant and not sentence.is_name(places) and not sentence.near(("intent",), places, 8)

    def _judgements(self, sentence: Sentence, carried: TestId | None) -> None:
        bad = sentence.said(wordings().judgement.bad)
        failed = frozenset(at for places in bad for at in places)
        good = [places for places in sentence.said(wordings().judgement.good) if not places & failed]
        for passes, told in ((False, bad), (True, good)):
            for places in told[:1]:
                test = sentence.test_at(min(places), carried)
                if test is None or (passes and sentence.near(("intent",), places, 8)):
                    continue
                if is_of_rule(sentence, places, passes=passes) or (sentence.mentions and is_question(sentence.words)):
                    continue
                if is_other(sentence, places, "judgements.all", denial_of("judgements.all")):
                    continue
                if passes:
                    denied = is_denied(sentence, places, "judgements.all", listed=sentence.unsaid(places))
                    self._sheet.judge(test, True, sentence, places, denied=denied)
                elif self._turns(sentence, places, failed | sentence.slighting):
                    self._sheet.judge(test, True, sentence, places)
                elif is_no_verdict(sentence, places):
                    continue
                else:
                    denied = sentence.unsaid(failed | sentence.slighting)
                    self._sheet.judge(test, False, sentence, places, denied=denied)
                self._ahead.clear()
                return

    def _turns(self, sentence: Sentence, places: Places, failed: Places) -> bool:
        """Whether what is said of a failure says that there was none."""
        turns = sentence.turns(failed) and not sentence.near(("must", "intent"), places, 8)
        return turns or is_surely_passed(sentence)

    # --- numbers ------------------------------------------------------------------------------------------------------

    def _numbers(self, sentence: Sentence, carried: TestId | None) -> None:
        if not sentence.mentions and sentence.found.get("refilled"):
            return  # "she is recharged above a hundred" is no limit of the test before
        by_test: dict[TestId, list[Amount]] = {}
        for amount in sentence.amounts:
            test = sentence.test_at(amount.first, carried)
            if test is not None:
                by_test.setdefault(test, []).append(amount)
        for test, said in by_test.items():
            limit = self._scheme.limit(test)
            if limit is not None and limit.quantity != "answer":
                self._of_limit(test, limit, said, sentence, alone=len(by_test) == 1)

    def _of_limit(
        self, test: TestId, limit: Limit, figures: Sequence[Amount], sentence: Sentence, *, alone: bool
    ) -> None:
        """Figures state the limit or tell a reading. `alone`: all figures of the sentence are said of this test."""
        said = [one for one in figures if is_of_pressure_or_time(one, sentence)]
        ruling = [one for one in said if self._rules(one, sentence, test)]
        # the time that a loss is watched belongs to its limit
        bounding = [one for one in said if one in ruling or one.measure == "s"] if ruling else []
        found = self._bounds(test, limit, bounding, sentence) if ruling else None
        state = weighed(limit, found, figures, sentence, self._scheme.setup.unit) if alone else found
        if state is not None:
            places = frozenset(at for one in bounding or figures for at in range(one.first, one.end))
            if state != found:  # learnt of all the words around the figures
                places = frozenset(range(*sentence.clause(places)))
            self._sheet.put(f"{test}.limit", sentence, places, state)
        if ruling or state is None:
            self._readings(test, limit, [one for one in said if one not in ruling], sentence)

    def _rules(self, amount: Amount, sentence: Sentence, test: TestId) -> bool:
        """Whether a number states a limit rather than a reading."""
        places = range(amount.first, amount.end)
        if sentence.near(("ruled",) if amount.way == "at" else ("ruled", "must"), places, 12):
            return True
        if sentence.near(("past",), places, 8) and not conditional(sentence, amount):
            return False
        spanned = amount.measure == "s" and any(one.high is not None for one in sentence.amounts)
        return amount.way != "at" or amount.before or (spanned and test == "build-up")

    def _bounds(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> MarkState | None:
        """What the words beside the figures make of a limit."""
        places = frozenset(at for amount in said for at in range(amount.first, amount.end))
        ruled = [one for one in said if one.measure == "s" or limit.quantity != "time"]
        turned = refused(sentence, ruled)
        firm = turned or any(insists(sentence, one) for one in ruled)
        said = [opposite(one) if one in turned else one for one in said]
        denied = any(one.denied and one.way != "at" for one in said)
        if denied or sentence.takes_back(places) or (not firm and sentence.denies(places)):
            return "denied"
        right = agrees(limit, said, self._scheme.setup.unit, test)
        return None if right is None else "said" if right else "wrong"  # None: half of it, or without a direction

    def _readings(self, test: TestId, limit: Limit, said: Sequence[Amount], sentence: Sentence) -> None:
        """Numbers beside a word that tells a reading."""
        cued = [one for one in said if sentence.near(("cue",), range(one.first, one.end), 5) and not one.denied]
        self._sheet.give(test, limit, cued, sentence)
