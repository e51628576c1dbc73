"""Captions as mouth: what is said and heard, line by line, and each verdict with its limit and reason.

Law: words carry the meaning, colour only repeats it; without a terminal or with NO_COLOR the lines are plain.
"""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from assistant.core.events import Device, Effect, Event, Heard, Judged, Line, Resumed, Say, Verdict
from assistant.core.prompts import Prompts, clock

_STYLES = {"pass": "bold green", "fail": "bold red", "not judged": "bold yellow"}
_INDENT = 15


def speaking_ms(text: str) -> int:
    """About how long a text takes to say, ms: 60 ms a letter is some 160 words a minute (measured with espeak-ng)."""
    return 300 + 60 * len(text)


class Captions:
    """Prints events and their effects as they come. `written`: how a heard text is spelled. `all_counts`: what nothing
    is answered to is still meant for us, as in a recital."""

    def __init__(
        self, console: Console, prompts: Prompts, written: Callable[[str], str], *, all_counts: bool = False
    ) -> None:
        self._console = console
        self._prompts = prompts
        self._written = written
        self._all_counts = all_counts

    def show(self, at_ms: int, event: Event | None, effects: tuple[Effect, ...]) -> None:
        if isinstance(event, Heard):
            self._heard(event, answered=bool(effects) or self._all_counts)
        elif isinstance(event, Device):
            self._line(at_ms, "device", Text(f"{event.device} {event.state}. {event.detail}", style="yellow"))
        elif isinstance(event, Resumed):
            self._line(at_ms, "resumed", Text("The check goes on.", style="yellow"))
        for effect in effects:
            if isinstance(effect, Judged):
                self.verdict(effect.verdict)
        for effect in effects:
            if isinstance(effect, Say):
                self._line(at_ms, "gladhand", Text(" ".join(filter(None, map(self._prompts.shown, effect.lines)))))

    def note(self, text: str) -> None:
        """A sentence about the devices or the log."""
        self._console.print(text, style="yellow", markup=False)

    def skipped(self, ms: int) -> None:
        """Say that a wait of the check was not waited for."""
        self._console.print(
            Padding(Text(f"({round(ms / 1000)} seconds of waiting not shown)", style="dim"), (0, 0, 0, _INDENT))
        )

    def verdict(self, verdict: Verdict) -> None:
        name = self._prompts.full(Line(prompt=f"test.{verdict.test}"))
        head = Text.assemble((f" {verdict.outcome.upper()} ", f"reverse {_STYLES[verdict.outcome]}"), f" {name}: ")
        head.append(self._prompts.full(verdict.reason))
        self._below(head)
        details = [f"limit: {verdict.limit}"]
        if verdict.margin is not None:
            details.append(f"margin: {verdict.margin:+g} {verdict.unit or ''}".strip())
        details.append(f"source: {verdict.source}")
        self._below(Text("; ".join(details), style="dim"))

    def _below(self, text: Text) -> None:
        self._console.print(Padding(text, (0, 0, 0, _INDENT)))

    def _heard(self, heard: Heard, answered: bool) -> None:
        text = self._written(heard.said(freely=self._all_counts))
        shown = Text(text) if answered else Text(f"{text}  (not for us)", style="dim")
        self._line(heard.end_ms, "driver", shown)

    def _line(self, at_ms: int, who: str, text: Text) -> None:
        style = {"driver": "cyan", "gladhand": "bold"}.get(who, "yellow")
        row = Table.grid(padding=(0, 1))
        row.add_column(width=5, justify="right", style="dim")
        row.add_column(width=8, style=style)
        row.add_column(overflow="fold")
        row.add_row(clock(at_ms), who, text)
        self._console.print(row)
