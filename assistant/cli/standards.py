"""`gladhand standards`: which standards there are."""

from __future__ import annotations

import json

import typer
from rich.console import Console
from rich.table import Column, Table

from assistant import standards as shelves
from assistant.cli.asked import Json, OwnFolder


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(standards)


def standards(folder: OwnFolder = None, as_json: Json = False) -> None:
    """List the standards to judge by, with edition, date and what a result means there."""
    entries = shelves.shelf(folder)
    if as_json:
        typer.echo(json.dumps([_record(entry) for entry in entries], indent=2))
        return
    ids = Column("Id", no_wrap=True, min_width=25)
    table = Table(ids, "Title, edition, date", "What a result means", show_lines=True)
    for entry in entries:
        if entry.standard is not None:
            kept = entry.standard
            name = f"{kept.id}\n(default)" if kept.id == shelves.DEFAULT else kept.id
            table.add_row(name, f"{kept.title}; {kept.edition}; {kept.date}.", f"{kept.meaning} ({kept.kind})")
    Console(highlight=False).print(table)
    for entry in entries:
        if entry.standard is None:
            typer.echo(f"Not usable: {entry.path}. See `gladhand limits --check`.", err=True)


def _record(entry: shelves.Entry) -> dict[str, object]:
    record: dict[str, object] = {"file": str(entry.path), "shipped": entry.shipped, "sha256": entry.sha256}
    if entry.standard is None:
        return {**record, "mistakes": [str(mistake) for mistake in entry.mistakes]}
    about = entry.standard.model_dump(by_alias=True, include={"id", "title", "edition", "date", "kind", "meaning"})
    return {**about, "default": entry.standard.id == shelves.DEFAULT, **record}
