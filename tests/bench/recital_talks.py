"""Talk-throughs with known marks, made from paraphrases: elements left out, limits changed, denials, order broken.

Law: everything follows from a seed; the development and the final half share no paraphrase. A talk is a list of
sentences, and the truth is what its maker meant by them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from assistant.core.events import TestId
from assistant.core.limit import Limit
from assistant.core.numbers import spoken
from assistant.review.recital import Scheme
from assistant.review.recital.scheme import bounds_of, span_of

CORPUS = Path(__file__).parent / "recital_corpus"
NO_TALK = 0.1
LEFT_OUT, CHANGED, DENIED, TEST_LEFT_OUT, SWAPPED = 0.12, 0.2, 0.1, 0.08, 0.2
IMPLIED = ("fact.pedal", "fact.released", "fact.trailer-set", "fact.engine-on", "fact.rebuilt")
"""Facts that other sentences may state in passing ("the leak test with the pedal down"): never left out or denied."""
_IT = {"low-air-warning": "the warning", "trailer-supply-pop-out": "the knob", "parking-valve-pop-out": "the knob"}
_ACTION = {
    "governor-cut-in": "pump", "low-air-warning": "pump", "trailer-supply-pop-out": "pump",
    "parking-valve-pop-out": "pump", "static-leakage": "leak", "applied-leakage": "leak", "parking-brake": "tug",
    "trailer-brake": "tug", "hand-valve": "lever", "service-brake": "roll",
}  # fmt: skip
_SWAPS: tuple[tuple[TestId, TestId], ...] = (
    ("static-leakage", "low-air-warning"),
    ("applied-leakage", "low-air-warning"),
    ("low-air-warning", "trailer-supply-pop-out"),
)
Rng = np.random.Generator
Corpus = Mapping[str, Mapping[str, list[str]]]


@dataclass
class TalkThrough:
    """`sentences` as they are said; `truth`: element -> said, missed, wrong or denied; `swapped`: the pair of tests
    whose order was broken."""

    sentences: list[str] = field(default_factory=list)
    truth: dict[str, str] = field(default_factory=dict)
    swapped: tuple[TestId, TestId] | None = None


def corpus(half: str) -> Corpus:
    """`half`: "development" or "final"."""
    return tomllib.loads((CORPUS / f"{half}.toml").read_text(encoding="utf-8"))


def talk_through(scheme: Scheme, words: Corpus, rng: Rng) -> TalkThrough:
    """One talk for the scheme."""
    talk = TalkThrough()
    tests = list(scheme.tests)
    if rng.random() < SWAPPED:
        first, later = _SWAPS[int(rng.integers(len(_SWAPS)))]
        if first in tests and later in tests:
            one, other = tests.index(first), tests.index(later)
            tests[one], tests[other] = tests[other], tests[one]
            talk.swapped = (first, later)
    for test in tests:
        _say_test(scheme, test, words, rng, talk)
    return talk


def _say_test(scheme: Scheme, test: TestId, words: Corpus, rng: Rng, talk: TalkThrough) -> None:
    skipped = rng.random() < TEST_LEFT_OUT and test not in (talk.swapped or ())
    for element in scheme.elements:
        if element.test != test:
            continue
        part = element.part
        talk.truth[element.id] = "missed"
        if skipped and part != "fact":
            continue
        chance = rng.random()
        if part != "name" and element.id not in IMPLIED and chance < LEFT_OUT:
            continue
        if element.id not in IMPLIED and LEFT_OUT <= chance < LEFT_OUT + DENIED and _denials(element, words, scheme):
            talk.truth[element.id] = "denied"
            lines = _denials(element, words, scheme)
        else:
            talk.truth[element.id] = "said"
            lines = _lines(part, element, words, scheme)
        figures = _figures(scheme.limit(test), scheme)
        if part == "limit" and talk.truth[element.id] == "said" and rng.random() < CHANGED and figures:
            figures = _changed(figures, rng)
            talk.truth[element.id] = "wrong"
        values = {**{key: spoken(value) for key, value in figures.items()}, **_reading(scheme.limit(test), rng)}
        line = str(rng.choice(lines)).format(it=_IT.get(test, "it"), **values)
        talk.sentences.append(line)
        if rng.random() < NO_TALK:
            talk.sentences.append(str(rng.choice(words["talk"]["all"])))


def kind_of(limit: Limit) -> str:
    """The list of the corpus that the limit is worded in."""
    if limit.must:
        return limit.must
    if limit.quantity in ("loss", "time"):
        return limit.quantity
    return limit.comparison.replace(" ", "-").replace("less-than", "at-most")


def _lines(part: str, element: object, words: Corpus, scheme: Scheme) -> Sequence[str]:
    test, fact = element.test, element.fact  # type: ignore[attr-defined]
    limit = scheme.limit(test)
    if part == "fact":
        return words["facts"][fact]
    if part == "name":
        return words["names"][test]
    if part == "action":
        return words["actions"][_ACTION.get(test, test)]
    if part == "judgement":
        return words["judgements"]["all"]
    assert limit is not None
    if part == "limit":
        return words["limits"][kind_of(limit)]
    kind = kind_of(limit)
    return words["readings"][kind if kind in words["readings"] else "at"]


def _denials(element: object, words: Corpus, scheme: Scheme) -> Sequence[str]:
    part, test, fact = element.part, element.test, element.fact  # type: ignore[attr-defined]
    limit = scheme.limit(test)
    key = {"fact": fact, "judgement": "judgement", "action": f"action-{_ACTION.get(test)}"}.get(part, "")
    if part == "limit" and limit is not None:
        key = kind_of(limit)
    return words["denied"].get(str(key), [])


def _figures(limit: Limit | None, scheme: Scheme) -> dict[str, float]:
    if limit is None or limit.must:
        return {}
    unit = scheme.setup.unit
    bounds = bounds_of(limit, unit)
    if limit.quantity == "time":
        span = span_of(limit, unit)
        return {"low": span.low[0], "high": span.high[0], "seconds": bounds.high[0]}
    return {key: side[0] for key, side in (("low", bounds.low), ("high", bounds.high)) if side}


def _changed(figures: dict[str, float], rng: Rng) -> dict[str, float]:
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
