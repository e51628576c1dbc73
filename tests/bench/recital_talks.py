"""Talk-throughs with known marks, made from paraphrases: elements left out, limits changed, denials, order broken.

Law: everything follows from a seed. A talk is a list of sentences, and the truth is what its maker meant by them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from assistant.core.events import TestId
from assistant.core.limit import Limit
from assistant.core.numbers import spoken
from assistant.review.recital import Scheme
from assistant.review.recital.kinds import ACTIONS, kind_of
from assistant.review.recital.scheme import Element, bounds_of, span_of
from tests.bench.recital_writers import Corpus

NO_TALK = 0.1
LEFT_OUT, CHANGED, DENIED, TEST_LEFT_OUT, SWAPPED = 0.12, 0.2, 0.1, 0.08, 0.2
OF_ANOTHER, MENDED, NO_FIGURE = 0.4, 0.15, 0.3
FILLED, ENDED = 0.25, 0.1
IMPLIED = ("fact.pedal", "fact.released", "fact.trailer-set", "fact.engine-on", "fact.rebuilt")
"""Facts that other sentences may state in passing ("the leak test with the pedal down"): never left out or denied."""
_IT = {"low-air-warning": "the warning", "trailer-supply-pop-out": "the knob", "parking-valve-pop-out": "the knob"}
_SWAPS: tuple[tuple[TestId, TestId], ...] = (
    ("static-leakage", "low-air-warning"),
    ("applied-leakage", "low-air-warning"),
    ("low-air-warning", "trailer-supply-pop-out"),
)
Rng = np.random.Generator


@dataclass
class TalkThrough:
    """`sentences` as they are said; `truth`: element -> said, missed, wrong or denied; `swapped`: the pair of tests
    whose order was broken."""

    sentences: list[str] = field(default_factory=list)
    truth: dict[str, str] = field(default_factory=dict)
    swapped: tuple[TestId, TestId] | None = None


def talk_through(scheme: Scheme, words: Corpus, rng: Rng, tests: int | None = None) -> TalkThrough:
    """One talk for the scheme. `tests`: only so many tests of it, one after the other from a random one on."""
    talk = TalkThrough(truth={element.id: "missed" for element in scheme.elements})
    order = list(scheme.tests)
    if rng.random() < SWAPPED:
        first, later = _SWAPS[int(rng.integers(len(_SWAPS)))]
        if first in order and later in order:
            one, other = order.index(first), order.index(later)
            order[one], order[other] = order[other], order[one]
            talk.swapped = (first, later)
    if tests is not None:
        begin = int(rng.integers(len(order) - tests + 1))
        order = order[begin : begin + tests]
        talk.swapped = talk.swapped if set(talk.swapped or ()) <= set(order) else None
    maker = _Maker(scheme, words, rng, talk)
    for test in order:
        maker.say(test)
    return talk


class _Maker:
    """Says one test after another into a talk."""

    def __init__(self, scheme: Scheme, words: Corpus, rng: Rng, talk: TalkThrough) -> None:
        self._scheme, self._words, self._rng, self._talk = scheme, words, rng, talk

    def say(self, test: TestId) -> None:
        """All elements of the test, but for those that are left out."""
        skipped = self._rng.random() < TEST_LEFT_OUT and test not in (self._talk.swapped or ())
        for element in self._scheme.elements:
            if element.test == test and not (skipped and element.part != "fact"):
                self._element(element)

    def _element(self, element: Element) -> None:
        chance = self._rng.random()
        if element.part != "name" and element.id not in IMPLIED and chance < LEFT_OUT:
            if element.part == "limit" and self._rng.random() < NO_FIGURE:
                self._put("no-figure", self._words.get("manner", {}).get("no-figure", []), {})
            return
        denials = _denials(element, self._words, self._scheme)
        figures = figures_of(self._scheme.limit(element.test), self._scheme) if element.part == "limit" else {}
        if element.id not in IMPLIED and LEFT_OUT <= chance < LEFT_OUT + DENIED and denials:
            truth, lines = "denied", denials
        else:
            truth, lines = "said", _lines(element.part, element, self._words, self._scheme)
            if figures and self._rng.random() < CHANGED:
                truth, figures = "wrong", self._wrong(element.test, figures)
        self._talk.truth[element.id] = truth
        if truth == "said" and figures and "manner" in self._words and self._rng.random() < MENDED:
            self._put(element.test, lines, changed(figures, self._rng))
            mend = str(self._rng.choice(self._words["manner"]["mend"]))
            self._put(element.test, lines, figures, f"{mend} ")
        else:
            self._put(element.test, lines, figures)
        if self._rng.random() < NO_TALK:
            self._put("talk", self._words["talk"]["all"], {})

    def _put(self, test: str, lines: Sequence[str], figures: dict[str, float], before: str = "") -> None:
        if not lines:
            return
        limit = self._scheme.limit(test) if test in self._scheme.tests else None  # type: ignore[arg-type]
        values = {**{key: spoken(value) for key, value in figures.items()}, **_reading(limit, self._rng)}
        line = str(self._rng.choice(lines)).format(it=moving_part(test), **values)
        self._talk.sentences.append(before + with_manner(line, self._words, self._rng))

    def _wrong(self, test: TestId, figures: dict[str, float]) -> dict[str, float]:
        """One figure changed, or the limit of another test, where that has the same bounds with other figures."""
        others = [
            other
            for one in self._scheme.tests
            if one != test
            and (other := figures_of(self._scheme.limit(one), self._scheme)).keys() == figures.keys()
            and other != figures
        ]
        if others and self._rng.random() < OF_ANOTHER:
            return others[int(self._rng.integers(len(others)))]
        return changed(figures, self._rng)


def with_manner(line: str, words: Corpus, rng: Rng) -> str:
    """The line as it comes out of a mouth, where the corpus says how: the truth stays the same."""
    if "manner" not in words:
        return line
    if rng.random() < FILLED:
        line = f"{rng.choice(words['manner']['before'])} {line}"
    if rng.random() < ENDED:
        line = f"{line}, {rng.choice(words['manner']['after'])}"
    return line


def _lines(part: str, element: Element, words: Corpus, scheme: Scheme) -> Sequence[str]:
    test, fact = element.test, element.fact
    limit = scheme.limit(test)
    if part == "fact":
        return words["facts"][str(fact)]
    if part == "name":
        return words["names"][test]
    if part == "action":
        return words["actions"][ACTIONS[test]]
    if part == "judgement":
        return words["judgements"]["all"]
    assert limit is not None
    if part == "limit":
        return words["limits"][kind_of(limit)]
    kind = kind_of(limit)
    return words["readings"][kind if kind in words["readings"] else "at"]


def _denials(element: Element, words: Corpus, scheme: Scheme) -> Sequence[str]:
    part, test, fact = element.part, element.test, element.fact
    limit = scheme.limit(test)
    key = {"fact": fact, "judgement": "judgement", "action": f"action-{ACTIONS[test]}"}.get(part, "")
    if part == "limit" and limit is not None:
        key = kind_of(limit)
    return words["denied"].get(str(key), [])


def moving_part(test: TestId) -> str:
    """What {it} stands for."""
    return _IT.get(test, "it")


def figures_of(limit: Limit | None, scheme: Scheme) -> dict[str, float]:
    """What {low}, {high} and {seconds} stand for."""
    if limit is None or limit.must:
        return {}
    unit = scheme.setup.unit
    bounds = bounds_of(limit, unit)
    if limit.quantity == "time":
        span = span_of(limit, unit)
        return {"low": span.low[0], "high": span.high[0], "seconds": bounds.high[0]}
    return {key: side[0] for key, side in (("low", bounds.low), ("high", bounds.high)) if side}


def changed(figures: dict[str, float], rng: Rng) -> dict[str, float]:
    """One figure made wrong, so that the lower one stays the lower one."""
    key = "seconds" if "seconds" in figures else str(rng.choice(sorted(figures)))
    wrong = dict(figures)
    steps = (5, 10, 15) if figures[key] >= 20 else (1, 2, 3)
    by = float(rng.choice(steps)) * (1 if key == "high" else -1 if key == "low" else 1)
    wrong[key] = figures[key] + by
    return wrong


def _reading(limit: Limit | None, rng: Rng) -> dict[str, str]:
    """A reading that passes: {n}, and {m} for the later one of a loss."""
    quantity = limit.quantity if limit else "pressure"
    if quantity == "loss":
        first = int(rng.integers(110, 126))
        return {"n": spoken(first), "m": spoken(first - 1)}
    if quantity == "time":
        return {"n": spoken(int(rng.integers(20, 40))), "m": ""}
    at = {"within": (26, 44), "at least": (103, 120), "at most": (112, 134)}
    low, high = at.get(limit.comparison if limit else "", (60, 70))
    if limit and limit.test == "low-air-warning":
        low, high = 58, 74
    return {"n": spoken(int(rng.integers(low, high))), "m": ""}
