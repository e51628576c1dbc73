"""All commands together, and the one place where trouble becomes a sentence and an exit code.

Law: a command is imported when it is called, so that a report does not wait for the ears and the loudspeaker.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterable, Sequence
from importlib import import_module
from types import FrameType
from typing import NoReturn

import typer

from assistant import __version__
from assistant.core.trouble import Trouble

_COMMANDS = {
    "check": "check",
    "demo": "check",
    "listen": "listen",
    "rehearse": "rehearse",
    "recite": "recite",
    "replay": "replay",
    "report": "report",
    "history": "history",
    "standards": "standards",
    "limits": "limits",
    "judge": "judge",
    "model": "model",
    "devices": "devices",
    "settings": "settings",
}
"""Each command and the module of this room that registers it, in the order of the help."""


def app(commands: Iterable[str] = tuple(_COMMANDS)) -> typer.Typer:
    """The command line with at least these commands."""
    group = typer.Typer(
        name="gladhand",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        help="Voice-driven, hands-free assistant for the in-cab air brake check of a heavy vehicle.",
        epilog="An aid, not a permission to drive: the local rule and qualified persons decide.",
    )
    group.callback(invoke_without_command=True)(_top)
    for module in dict.fromkeys(_COMMANDS[name] for name in commands):
        import_module(f"assistant.cli.{module}").register(group)
    return group


def _top(version: bool = typer.Option(False, "--version", help="Show the version and leave.")) -> None:
    if version:
        typer.echo(f"gladhand {__version__}")
        raise typer.Exit


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; what a person can put right is told in a sentence."""
    signal.signal(signal.SIGTERM, _stop)
    given = list(sys.argv[1:] if arguments is None else arguments)
    wanted = given[:1] if given and given[0] in _COMMANDS else _COMMANDS
    try:
        app(wanted)(given)
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else int(left.code is not None)
    except Trouble as trouble:
        typer.echo(f"gladhand: {trouble}", err=True)
        return trouble.exit_code
    return 0


def _stop(_signal: int, _frame: FrameType | None) -> NoReturn:
    """A request to end is answered like Ctrl-C: the check is closed in order and the log is kept."""
    raise KeyboardInterrupt
