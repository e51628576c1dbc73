"""`gladhand replay`: go through a session log again, or verify it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from assistant import assets
from assistant.cli import build
from assistant.log import read, verify
from assistant.mouth.console import Captions
from assistant.review.replay import fold


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(replay)


def replay(
    log: Annotated[Path, typer.Argument(help="A session log (.jsonl).")],
    verify_it: Annotated[
        bool, typer.Option("--verify", help="Check every byte of the chain and recompute every verdict.")
    ] = False,
) -> None:
    """Show a check as it happened: what was said and heard, each reading, each verdict with its limit and source."""
    console = Console(highlight=False)
    if verify_it:
        _verify(log, console)
        return
    kept = read(log)
    setup = kept.header.setup
    about = [setup.driver, setup.fleet_number, setup.route, setup.vehicle.vehicle_class, setup.standard]
    console.print(f"{kept.header.created}: " + ", ".join(part for part in about if part) + "\n", markup=False)
    captions = Captions(console, assets.prompts(), build.language(setup.unit).written)
    for entry in kept.entries:
        captions.show(entry.t_ms, entry.event, entry.effects)
    console.print(f"\n{_ending(kept.sealed, kept.torn)} Head {kept.head}.")


def _verify(log: Path, console: Console) -> None:
    """Raises BrokenLog for a broken link and Difference for effects that come out otherwise."""
    kept = verify(log)
    setup = kept.header.setup
    if setup.recital is None:
        fold(build.dialogue_for(setup), kept.entries)
    else:
        fold(build.recital_for(setup), kept.entries)
    count = len(kept.entries)
    console.print(f"Whole: {count} entries, every link holds and every verdict recomputes. Head {kept.head}.")
    console.print(_ending(kept.sealed, kept.torn))


def _ending(sealed: bool, torn: bool) -> str:
    if sealed:
        return "The check is complete and sealed."
    return (
        "The last line is torn: the writer was interrupted."
        if torn
        else "The check is not complete; it can be resumed."
    )
