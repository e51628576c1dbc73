"""`gladhand history`: all session logs of a folder, in one table, with what heads for its limit."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, get_args

import platformdirs
import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Column, Table

from assistant import assets
from assistant.cli.asked import one_of
from assistant.cli.files import write
from assistant.core.events import Setup
from assistant.core.trouble import Trouble
from assistant.log import default_folder
from assistant.review.history import summary
from assistant.review.history.index import update
from assistant.review.history.reading import Check, Damaged
from assistant.review.history.summary import PRACTICE, By, History, Wanted, by_trainee, counted, summaries
from assistant.review.history.trainee import to_say
from assistant.review.history.trend import sentence, trends
from assistant.review.story import Wording

if TYPE_CHECKING:
    from assistant.core.dialogue import Dialogue

_SHOWN = 12


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(history)


def history(
    folder: Annotated[Path | None, typer.Argument(help="A folder of session logs; without it, the usual one.")] = None,
    by: Annotated[str, typer.Option("--by", help=f"Group by: {', '.join(get_args(By))}.")] = "vehicle",
    vehicle: Annotated[str | None, typer.Option("--vehicle", help="Only this fleet number.")] = None,
    driver: Annotated[str | None, typer.Option("--driver", help="Only this driver.")] = None,
    standard: Annotated[str | None, typer.Option("--standard", help="Only checks by this standard.")] = None,
    since: Annotated[str | None, typer.Option("--since", help="First day, as 2026-03-02.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Last day, as 2026-03-31.")] = None,
    rehearsals: Annotated[
        bool, typer.Option("--rehearsals", help="Count checks of the simulated vehicle too.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print all of it as JSON.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="Print CSV, one row for each test of each check.")] = False,
    html: Annotated[Path | None, typer.Option("--html", help="Write a page with charts.")] = None,
    anew: Annotated[bool, typer.Option("--anew", help="Forget the index and read every log again.")] = False,
) -> None:
    """Show the checks of a fleet by vehicle, driver, date or standard, and which reading heads for its limit.

    A log that does not hold is listed and not counted.
    """
    if as_json and csv:
        raise Trouble("Choose one of --json and --csv.")
    grouped: By = next(name for name in get_args(By) if name == one_of(by, get_args(By), "grouping"))
    wanted = Wanted(
        vehicle=vehicle,
        driver=driver,
        standard=standard,
        since=_day(since, "--since"),
        until=_day(until, "--until"),
        rehearsals=rehearsals,
    )
    place = folder or default_folder()
    found = _history(place, wanted, grouped, anew)
    if as_json:
        typer.echo(found.model_dump_json(indent=2))
    elif csv:
        typer.echo(summary.as_csv(found.checks), nl=False)
    else:
        _show(found, Wording(assets.prompts()))
    if html is not None:
        from assistant.review.history.page import page  # charts and templates are slow to load

        write(html, page(found, Wording(assets.prompts())))
        Console(stderr=True, highlight=False).print(f"Page: {html}", soft_wrap=True, markup=False)


def _history(folder: Path, wanted: Wanted, by: By, anew: bool) -> History:
    checks, damaged = _read(folder, anew)
    meant = tuple(check for check in checks if wanted.takes(check))
    return History(
        folder=str(folder),
        wanted=wanted,
        by=by,
        summaries=summaries(meant, by),
        trends=trends(meant),
        checks=meant,
        damaged=tuple(damaged),
        trainees=by_trainee(checks, wanted),
        practice=sum(check.mode in PRACTICE for check in checks) - sum(check.mode in PRACTICE for check in meant),
    )


def _read(folder: Path, anew: bool) -> tuple[list[Check], list[Damaged]]:
    """With a bar on the terminal while logs are being read."""
    place = platformdirs.user_cache_path("gladhand", appauthor=False) / "history"
    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading session logs", total=None, visible=False)

        def told(done: int, of: int) -> None:
            bar.update(task, completed=done, total=of, visible=True)

        return update(folder, place, told, _dialogue_for, anew=anew)


def _recitals(found: History, wording: Wording) -> Table:
    """The marks of each trainee, oldest first."""
    table = Table("Trainee", "Recitals", "Points of what could be had", "Most often not said right")
    for trainee in found.trainees:
        shares = " ".join(f"{sitting.share:.0%}" for sitting in trainee.recitals[-_SHOWN:])
        missed = "; ".join(f"{to_say(element, wording)} ({count})" for element, count in trainee.missed[:3])
        table.add_row(trainee.name, str(len(trainee.recitals)), shares, missed)
    return table


def _dialogue_for(setup: Setup) -> Dialogue:
    from assistant.cli import build  # slow to load, and needed only where a check was broken off

    return build.dialogue_for(setup)


def _day(text: str | None, option: str) -> str | None:
    """Raises Trouble for what is no day."""
    try:
        return None if text is None else date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise Trouble(f'{option}: "{text}" is no day. Write it as 2026-03-02.') from error


def _show(found: History, wording: Wording) -> None:
    console = Console(highlight=False)
    console.print(f"{counted(found)}, in {found.folder}", markup=False, soft_wrap=True)
    counts = ("Checks", "With a failure", "Not judged", "Asked again", "Most often not passed")
    table = Table(found.by.capitalize(), *counts, Column("Last check", no_wrap=True))
    for line in found.summaries:
        missed = ", ".join(f"{wording.name(test)} ({count})" for test, count in line.missed)
        numbers = [str(number) for number in (line.checks, line.failed, line.open, line.asked_again)]
        table.add_row(line.key, *numbers, missed, line.last[:10])
    if found.checks:
        console.print(table)
    if found.practice:
        console.print(f"Left out: {found.practice} for practice; --rehearsals counts those on a simulated vehicle.")
    if found.trainees:
        console.print(_recitals(found, wording))
    flagged = [trend for trend in found.trends if trend.flagged]
    for trend in flagged:
        now = f"margin {trend.points[-1][2]:+g} {trend.unit}, {trend.margin_a_day * 7:+.2f} a week"
        text = f"LOOK AT IT: {trend.vehicle}, {wording.name(trend.test).lower()}: {now}; {sentence(trend)}."
        console.print(text, markup=False, soft_wrap=True, style="bold red")
    if found.checks and not flagged:
        console.print("No reading is on the way to its limit, as far as these checks show.")
    for file in found.damaged[:_SHOWN]:
        console.print(f"Not counted: {file.why}", markup=False, soft_wrap=True, style="yellow")
    if len(found.damaged) > _SHOWN:
        console.print(f"Not counted: {len(found.damaged) - _SHOWN} more; --json names them all.")
