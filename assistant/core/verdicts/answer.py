"""Tests that are felt or seen: the tug tests, the hand valve, the low-speed stop."""

from __future__ import annotations

from assistant.core.events import TestId
from assistant.core.verdicts.finding import Case, Finding, line, not_judged

# The answer key of a test, the answer that passes, and those that fail.
_ANSWERS: dict[TestId, tuple[str, str, tuple[str, ...]]] = {
    "parking-brake": ("held", "held", ("moved",)),
    "trailer-brake": ("held", "held", ("moved",)),
    "hand-valve": ("felt", "yes", ("no",)),
    "service-brake": ("pull", "straight", ("left", "right")),
}


def judge_answer(case: Case) -> Finding:
    key, good, bad = _ANSWERS[case.observation.test]
    answer = case.answer(key)
    if answer == good:
        return Finding("pass", line(f"verdict.{key}-{good}"))
    if answer in bad:
        return Finding("fail", line(f"verdict.{key}-{answer}"))
    return not_judged("verdict.no-answer")
