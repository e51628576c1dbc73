"""A rehearsal by a trainee, typed or spoken: the words go to the simulated vehicle, to the assistant, or to both."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from rich.console import Console

from assistant import assets
from assistant.cab.aloud import SoundsOfTheCab, SpokenPractice
from assistant.cab.practice import Practice
from assistant.cab.trainee import TraineeCab
from assistant.cli import build
from assistant.cli.automatic import Gone, compare, go_through
from assistant.cli.chart import Trace, draw
from assistant.cli.dash import Dash
from assistant.cli.live import ahead, cab_for, closing_in_order, ears
from assistant.cli.revealed import captions, reveal, show_marks
from assistant.cli.settings import Settings
from assistant.core.events import Effect, Event, Heard, Setup
from assistant.core.hearing import understand
from assistant.log import SessionLog
from assistant.soundcard.hush import hushed
from assistant.vehicle.cab import Happening
from assistant.vehicle.orders import EXAMPLES
from assistant.vehicle.sounding import CabSound
from assistant.vehicle.vehicle import Vehicle


class Trainee:
    """One rehearsal. `sounds`: what the cab lets hear is played as well."""

    def __init__(self, vehicle: Vehicle, standard: str, recite: bool, held: Settings, *, sounds: bool) -> None:
        self._console = Console(highlight=False)
        self._vehicle = vehicle
        self._setup = Setup(standard=standard, vehicle=vehicle.spec.record, recital="asked" if recite else None)
        self._held = held
        self._captions = captions(self._console, recite)
        self._dash = Dash(self._console)
        self._trace = Trace()
        self._sound = CabSound() if sounds else None
        self._practice = Practice(vehicle, understood=self._understood, look=self._look, refused=self._aside)

    def typed(self, place: Path, fast: bool, plot: Path | None) -> int:
        """At the keyboard. The exit code: 1 when the check was not finished."""
        lines = (line.rstrip("\r\n") for line in sys.stdin)
        log = self._log(place)
        with self._shown(), self._heard():
            gone = go_through(self._setup, log, TraineeCab(self._practice, lines, jump=fast), self._watch)
        return self._close(gone, log.path, plot)

    def spoken(self, place: Path, model: Path, plot: Path | None) -> int:
        """By voice, in real time. The exit code as for `typed`. Raises Missing without a microphone."""
        recite = self._setup.recital is not None
        cab = cab_for(
            self._held,
            lambda: ears(model, self._setup.unit, free=recite, orders=True),
            self._captions.note,
            quiet=False,
        )
        practice = SpokenPractice(cab, self._practice, self._words, lambda text: self._aside(f"You: {text}"))
        with ExitStack() as stack:
            stack.callback(cab.close)
            stack.callback(practice.close)
            with hushed():
                cab.open("`gladhand rehearse --typed`")
            if not recite:
                cab.prepare(ahead(assets.prompts(), self._setup))
            log = self._log(place)
            for each in (self._shown(), self._heard(), hushed(), closing_in_order(cab)):
                stack.enter_context(each)
            practice.start(log.path if self._held.keep_sound else None)
            gone = go_through(self._setup, log, practice, self._watch)
            cab.speak_out()
        return self._close(gone, log.path, plot)

    @contextmanager
    def _shown(self) -> Iterator[None]:
        """The dash, and how to be understood."""
        self._dash.open()
        self._console.print(f"Say what you do: {EXAMPLES}. Everything else goes to the assistant.\n", markup=False)
        try:
            yield
        finally:
            self._dash.close()

    @contextmanager
    def _heard(self) -> Iterator[None]:
        """The cab's sounds, where they are wanted."""
        if self._sound is None:
            yield
            return
        out = SoundsOfTheCab(self._sound.next, self._held.loudspeaker, self._held.loudness, self._captions.note)
        with hushed():
            out.open()
        try:
            yield
        finally:
            out.close()

    def _log(self, place: Path) -> SessionLog:
        return SessionLog.create(place, build.header(self._setup, "rehearsal"))

    def _close(self, gone: Gone, log: Path, plot: Path | None) -> int:
        if plot is not None:
            draw(self._trace, plot, self._vehicle.spec.title)
        self._console.print()
        if self._setup.recital is not None:
            show_marks(self._console, log)
        found = compare(self._vehicle, self._setup, gone.verdicts)
        reveal(self._console, tuple(map(str, self._vehicle.faults)), found)
        self._console.print(f"Session log: {log}", soft_wrap=True, markup=False)
        return 0 if gone.finished else 1

    def _understood(self, text: str) -> bool:
        if self._setup.recital is not None:
            return True  # what a trainee does is said as well
        heard = Heard(text=text, start_ms=0, end_ms=0, by="typed")
        return understand(heard, build.language(), self._setup.unit).kind != "unclear"

    def _words(self, heard: Heard) -> str:
        return build.language().written(heard.said(freely=True))

    def _aside(self, text: str) -> None:
        self._console.print(f"      ({text})", markup=False)

    def _look(self, vehicle: Vehicle, heard: tuple[Happening, ...]) -> None:
        self._dash.look(vehicle, heard)
        self._trace.look(vehicle)
        if self._sound is not None:
            self._sound.look(vehicle, heard)

    def _watch(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
        self._captions.show(at_ms, event, effects)
