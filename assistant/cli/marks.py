"""The marks of a recital on the screen, and as JSON."""

from __future__ import annotations

import json

from rich.console import Console
from rich.table import Table

from assistant.core.events import Line, Marked
from assistant.core.prompts import Prompts, clock
from assistant.review.recital import Debrief, Scheme, barring, correction, element_line

_STYLES = {"said": "green", "missed": "yellow", "wrong": "bold red", "denied": "bold red"}


def show(console: Console, prompts: Prompts, scheme: Scheme, told: Debrief) -> None:
    """Every element with its mark, the words and their time; faults of order and safety; the sum."""
    table = Table("what to say", "mark", "at", "what was said")
    for mark in told.marks:
        at = "" if mark.at_ms is None else clock(mark.at_ms)
        what = prompts.full(element_line(scheme, mark.element))
        table.add_row(what, f"[{_STYLES[mark.state]}]{mark.state}[/]", at, _words(prompts, scheme, mark))
    console.print(table)
    lines = barring(told) + [Line(prompt=f"unsafe.{hazard}") for hazard in told.unsafe]
    lines += [
        Line(prompt="recital.order", values={"later": later, "first": first}) for later, first in told.out_of_order
    ]
    for line in lines:
        console.print(prompts.full(line), markup=False)
    said = sum(mark.state == "said" for mark in told.marks)
    console.print(
        f"Points: {said} said of {told.total}, less {len(told.out_of_order)} out of order and {len(told.unsafe)} not "
        f"safe: {told.points}.",
        markup=False,
    )
    if told.practise:
        console.print(f"Practise next: {prompts.full(element_line(scheme, told.practise))}", markup=False)


def to_json(scheme: Scheme, told: Debrief) -> str:
    """The same as one object."""
    record = told.model_dump(mode="json", exclude={"verdicts"})
    record["verdicts"] = {test: verdict.outcome for test, verdict in told.verdicts.items()}
    record["standard"] = scheme.standard.id
    record["vehicle"] = scheme.setup.vehicle.vehicle_class
    return json.dumps(record, indent=2)


def _words(prompts: Prompts, scheme: Scheme, mark: Marked) -> str:
    if mark.state != "wrong":
        return mark.words
    return " ".join(prompts.full(line) for line in correction(scheme, mark))
