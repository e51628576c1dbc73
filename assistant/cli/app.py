"""All commands together, and the one place where trouble becomes a sentence and an exit code."""

from __future__ import annotations

import signal
from collections.abc import Sequence
from types import FrameType
from typing import NoReturn

import typer
from rich.console import Console

from assistant import __version__
from assistant.cli import check, devices, judge, limits, listen, model, recite, rehearse, replay, settings, standards
from assistant.core.trouble import Trouble

app = typer.Typer(
    name="gladhand",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Voice-driven, hands-free assistant for the in-cab air brake check of a heavy vehicle.",
    epilog="An aid, not a permission to drive: the local rule and qualified persons decide.",
)
check.register(app)
listen.register(app)
rehearse.register(app)
recite.register(app)
replay.register(app)
standards.register(app)
limits.register(app)
judge.register(app)
model.register(app)
devices.register(app)
settings.register(app)


@app.callback(invoke_without_command=True)
def _top(version: bool = typer.Option(False, "--version", help="Show the version and leave.")) -> None:
    if version:
        typer.echo(f"gladhand {__version__}")
        raise typer.Exit


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; what a person can put right is told in a sentence."""
    signal.signal(signal.SIGTERM, _stop)
    try:
        app(arguments)
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else int(left.code is not None)
    except Trouble as trouble:
        Console(stderr=True, highlight=False).print(f"gladhand: {trouble}", markup=False, soft_wrap=True)
        return trouble.exit_code
    return 0


def _stop(_signal: int, _frame: FrameType | None) -> NoReturn:
    """A request to end is answered like Ctrl-C: the check is closed in order and the log is kept."""
    raise KeyboardInterrupt
