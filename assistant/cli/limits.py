"""`gladhand limits`: the tests and limits of a standard for a vehicle, with their sources."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from assistant import assets, standards
from assistant.cli.asked import Absent, BuildDate, Class, Json, OwnFolder, StandardId, vehicle_of
from assistant.core.events import Line, TestId, Vehicle
from assistant.core.limit import SURENESS, Limit
from assistant.core.standard import Standard
from assistant.core.trouble import BadInput


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(limits)


def limits(
    standard: StandardId = standards.DEFAULT,
    vehicle: Class = "combination",
    built: BuildDate = "since March 1997",
    absent: Absent = None,
    folder: OwnFolder = None,
    as_json: Json = False,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON schema of a standard file.")] = False,
    check: Annotated[Path | None, typer.Option("--check", help="Explain every mistake in a standard file.")] = None,
) -> None:
    """Show what a standard asks of a vehicle: each test in order, its limit, condition, consequence and source."""
    if schema:
        typer.echo(json.dumps(Standard.model_json_schema(by_alias=True), indent=2))
        return
    if check is not None:
        _check(check)
        return
    chosen, about = standards.load(standard, folder), vehicle_of(vehicle, built, absent)
    if as_json:
        typer.echo(json.dumps(_record(chosen, about), indent=2))
    else:
        _print(chosen, about)


def _check(path: Path) -> None:
    """Raises BadInput when there is a mistake."""
    mistakes = standards.check_file(path)
    for mistake in mistakes:
        typer.echo(f"{path}: {mistake}")
    if mistakes:
        count = "1 mistake" if len(mistakes) == 1 else f"{len(mistakes)} mistakes"
        raise BadInput(f"{path} has {count}, listed above. Put it right and check it again.")
    typer.echo(f"{path}: no mistake, it can be used.")


def _listed(standard: Standard, vehicle: Vehicle) -> list[tuple[TestId, Limit]]:
    """The tests in order, then those that have a limit but are not done in the cab."""
    outside = [limit.test for limit in standard.limits if limit.test not in standard.sequence]
    tests = (*standard.order(vehicle), *(test for test in outside if standard.fitted(test, vehicle)))
    found = [(test, standard.limit(test, vehicle)) for test in tests]
    return [(test, limit) for test, limit in found if limit is not None]


def _record(standard: Standard, vehicle: Vehicle) -> dict[str, object]:
    about = standard.model_dump(include={"id", "title", "edition", "date", "kind", "meaning", "order_note"})
    moving = standard.moving.model_dump(by_alias=True, exclude_none=True)
    return {
        "standard": about,
        "vehicle": vehicle.vehicle_class,
        "built": vehicle.built,
        "order": list(standard.order(vehicle)),
        "before_moving": moving,
        "not_part": dict(standard.not_part),
        "limits": [
            {
                "limit": limit.text(),
                "comparison": limit.comparison,
                **limit.model_dump(by_alias=True, exclude_defaults=True, exclude={"vehicles", "built", "needs"}),
                "law": standard.is_law(limit),
                "sure_means": SURENESS[limit.sure],
            }
            for _, limit in _listed(standard, vehicle)
        ],
    }


def _print(standard: Standard, vehicle: Vehicle) -> None:
    console, prompts = Console(highlight=False), assets.prompts()
    console.print(f"{standard.title}; {standard.edition}; {standard.date}.", markup=False)
    console.print(f"{standard.meaning} {standard.order_note}".strip(), markup=False)
    console.print(f"Vehicle: {vehicle.vehicle_class}, built {vehicle.built}.\n", markup=False)
    table = Table("Test", "Limit", "Condition, consequence, source", show_lines=True)
    for test, limit in _listed(standard, vehicle):
        outside = "" if test in standard.sequence else " (not in the cab)"
        fails = f"If it fails: {limit.consequence.replace('-', ' ')}."
        about = "\n".join(part for part in (limit.condition, fails, f"{limit.source}: {SURENESS[limit.sure]}.") if part)
        table.add_row(prompts.full(Line(prompt=f"test.{test}")) + outside, limit.text(), about)
    console.print(table)
    moving = standard.moving
    console.print(f"Before moving: at least {moving.pressure.text()} ({moving.source}).", markup=False)
    for test, why in standard.not_part.items():
        console.print(f"Not part: {prompts.full(Line(prompt=f'test.{test}'))}. {why}", markup=False)
