"""What a rehearsal shows: its captions; at the end the marks of a recital, what was hidden, whether it was found."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.table import Table

from assistant import assets
from assistant.cli import build
from assistant.cli.automatic import Compared
from assistant.cli.marks import show
from assistant.log import read
from assistant.mouth.console import Captions
from assistant.review.recital import debrief, mark
from assistant.review.replay import fold

_OUTCOMES = {"pass": "PASS", "fail": "FAIL", "not judged": "NOT JUDGED"}


def captions(console: Console, recite: bool) -> Captions:
    """In a recital everything that is said counts, and stays as it was said."""
    return Captions(console, assets.prompts(), str if recite else build.language().written, all_counts=recite)


def show_marks(console: Console, log: Path) -> None:
    """The marks of the recital in a log."""
    kept = read(log)
    flow = build.recital_for(kept.header.setup)
    state = fold(flow, kept.entries)
    show(console, assets.prompts(), flow.scheme, debrief(flow.scheme, mark(flow.scheme, state.heard)))


def reveal(console: Console, faults: tuple[str, ...], tests: tuple[Compared, ...]) -> None:
    """What was hidden, and whether the check has found it."""
    table = Table("test", "the vehicle", "the check", "", title="What was found", title_justify="left")
    for test in tests:
        note = "" if test.verdict == test.truth else "too near to tell" if test.truth == "near" else ""
        note = "wrong" if test.wrong else note
        table.add_row(test.test, test.truth, _OUTCOMES[test.verdict], note)
    console.print(table)
    console.print(f"Hidden in the vehicle: {', '.join(faults) or 'nothing'}.", markup=False)
    to_find = [test for test in tests if test.truth == "fail"]
    found = [test.test for test in to_find if test.verdict == "fail"]
    if not faults:
        said = "There was nothing to find."
    elif not to_find:
        said = "No test of this check shows it clearly."
    elif found:
        said = f"Found, by: {', '.join(found)}."
    else:
        said = f"Not found. It shows in: {', '.join(test.test for test in to_find)}."
    console.print(said, markup=False)
