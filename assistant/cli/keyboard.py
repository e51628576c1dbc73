"""A rehearsal by a trainee at the keyboard: what is typed goes to the simulated vehicle or to the assistant."""

from __future__ import annotations

import sys
from pathlib import Path

from rich.console import Console

from assistant.cab.trainee import TraineeCab
from assistant.cli import build
from assistant.cli.automatic import Gone, compare, go_through
from assistant.cli.chart import Trace, draw
from assistant.cli.dash import Dash
from assistant.cli.revealed import captions, reveal, show_marks
from assistant.core.events import Effect, Event, Heard, Setup
from assistant.core.hearing import understand
from assistant.log import SessionLog
from assistant.vehicle.cab import Happening
from assistant.vehicle.orders import EXAMPLES
from assistant.vehicle.vehicle import Vehicle


class Keyboard:
    """A trainee at the keyboard."""

    def __init__(self, vehicle: Vehicle, standard: str, recite: bool) -> None:
        self._console = Console(highlight=False)
        self._vehicle = vehicle
        self._setup = Setup(standard=standard, vehicle=vehicle.spec.record, recital="asked" if recite else None)
        self._captions = captions(self._console, recite)
        self._dash = Dash(self._console)
        self._trace = Trace()

    def run(self, place: Path, fast: bool, plot: Path | None) -> int:
        """The exit code: 1 when the check was not finished."""
        cab = TraineeCab(
            self._vehicle,
            (line.rstrip("\r\n") for line in sys.stdin),
            jump=fast,
            understood=self._understood,
            look=self._look,
            refused=lambda why: self._console.print(f"      ({why})", markup=False),
        )
        log = SessionLog.create(place, build.header(self._setup, "rehearsal"))
        self._dash.open()
        self._console.print(f"Say what you do: {EXAMPLES}. Everything else goes to the assistant.\n", markup=False)
        try:
            gone = go_through(self._setup, log, cab, self._watch)
        finally:
            self._dash.close()
        if plot is not None:
            draw(self._trace, plot, self._vehicle.spec.title)
        self._close(gone, log.path)
        return 0 if gone.finished else 1

    def _close(self, gone: Gone, log: Path) -> None:
        self._console.print()
        if self._setup.recital is not None:
            show_marks(self._console, log)
        found = compare(self._vehicle, self._setup, gone.verdicts)
        reveal(self._console, tuple(map(str, self._vehicle.faults)), found)
        self._console.print(f"Session log: {log}", soft_wrap=True, markup=False)

    def _understood(self, line: str) -> bool:
        if self._setup.recital is not None:
            return True  # what a trainee does is said as well
        heard = Heard(text=line, start_ms=0, end_ms=0, by="typed")
        return understand(heard, build.language(), self._setup.unit).kind != "unclear"

    def _look(self, vehicle: Vehicle, heard: tuple[Happening, ...]) -> None:
        self._dash.look(vehicle, heard)
        self._trace.look(vehicle)

    def _watch(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
        self._captions.show(at_ms, event, effects)
