"""The marks of a recital on the screen, and as JSON."""

from __future__ import annotations

import json

from rich.console import Console
from rich.table import Table

from assistant.core.prompts import Prompts, clock
from assistant.review.recital import Debrief, Scheme, element_line, faults, in_points, what_was_said

_STYLES = {"said": "green", "missed": "yellow", "wrong": "bold red", "denied": "bold red"}


def show(console: Console, prompts: Prompts, scheme: Scheme, told: Debrief) -> None:
    """Every element with its mark, the words and their time; faults of order and safety; the sum."""
    table = Table("what to say", "mark", "at", "what was said")
    for mark in told.marks:
        at = "" if mark.at_ms is None else clock(mark.at_ms)
        what = prompts.full(element_line(scheme, mark.element))
        words = what_was_said(scheme, mark, prompts.full)
        table.add_row(what, f"[{_STYLES[mark.state]}]{mark.state}[/]", at, words)
    console.print(table)
    for line in (*faults(told), in_points(told)):
        console.print(prompts.full(line), markup=False)
    if told.practise:
        console.print(f"Practise next: {prompts.full(element_line(scheme, told.practise))}", markup=False)


def to_json(scheme: Scheme, told: Debrief) -> str:
    """The same as one object."""
    record = told.model_dump(mode="json", exclude={"verdicts"})
    record["verdicts"] = {test: verdict.outcome for test, verdict in told.verdicts.items()}
    record["standard"] = scheme.standard.id
    record["vehicle"] = scheme.setup.vehicle.vehicle_class
    return json.dumps(record, indent=2)
