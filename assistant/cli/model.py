"""`gladhand model`: what speech model is there, and `gladhand model fetch`: get one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn

from assistant.core.trouble import BadInput, Missing
from assistant.ears import fetch, model

_FOLDER = typer.Option("--model", envvar=model.VARIABLE, help="A speech model folder instead of the fetched one.")
ModelPath = Annotated[Path | None, _FOLDER]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(invoke_without_command=True, help="Show the speech model, or fetch one.")
    group.callback()(show)
    group.command("fetch")(fetch_it)
    app.add_typer(group, name="model")


def show(context: typer.Context, chosen: ModelPath = None) -> None:
    """Show where the speech model is, how large, and whether it is whole."""
    if context.invoked_subcommand is not None:
        return
    console = Console(highlight=False)
    folder = chosen or model.home()
    if not folder.exists():
        raise Missing(f"There is no speech model at {folder}. {model.WAYS_OUT}")
    found = model.state(folder)
    console.print(f"Speech model {found.path}", soft_wrap=True)
    console.print(f"from {found.origin}, {found.size / 1e6:.0f} MB")
    if found.damage:
        raise BadInput(f"It can't be used: {found.damage} {model.cure(folder)}")
    console.print("It is whole.")


def fetch_it(
    source: Annotated[
        Path | None, typer.Option("--from", help="A wheel, zip file or folder that is already on this machine.")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Replace a model that is already there.")] = False,
) -> None:
    """Fetch the speech model (41 MB) into the user's data folder."""
    console = Console(highlight=False)
    home = model.home()
    if source:
        console.print(f"The model is in {fetch.take(source)}", soft_wrap=True)
        return
    if home.exists() and not again and model.damage(home, thorough=True) is None:
        console.print(f"It is already there, and whole: {home}", soft_wrap=True)
    else:
        console.print(f"The speech model is in {_with_bar(console)}", soft_wrap=True)


def ready(chosen: Path | None, console: Console) -> Path:
    """The model folder to use; on first use it is fetched, with a line that says so.

    Raises Missing when there is none and none can be fetched, BadInput when it is damaged.
    """
    if chosen is None and not model.home().exists():
        console.print("The speech model is not on this machine yet. It is fetched once, 41 MB.")
        _with_bar(console)
    return model.find(chosen)


def _with_bar(console: Console) -> Path:
    """Fetch it, and show how far that is."""
    columns = (TextColumn("Speech model"), BarColumn(), DownloadColumn(), TransferSpeedColumn())
    with Progress(*columns, console=console) as bar:
        task = bar.add_task("")
        return fetch.fetch(lambda done, total: bar.update(task, completed=done, total=total))
