"""The questions of a check as a table, for the documents: made from the plan, so that it can't be wrong."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.core.plan import ENDING, Plan, Step

_HEAD = ("| test | question | kind | needs first | makes | ends |", "|---|---|---|---|---|---|")


def questions(plan: Plan) -> str:
    """A Markdown table of all questions, with the facts that they need, make and end."""
    steps = [_row(test.id, step) for test in plan.tests for step in test.steps]
    gates = [_row("(gate)", gate) for gate in plan.gates.values()]
    return "\n".join((*_HEAD, *steps, _row("(end)", ENDING), *gates))


def _row(test: str, step: Step) -> str:
    cells = (test, step.id, step.kind, _facts(step.needs), _facts(step.makes), _facts(step.ends))
    return "| " + " | ".join(cells) + " |"


def _facts(facts: Iterable[str]) -> str:
    return ", ".join(facts)
