"""A check from its beginning to the last line on the screen, whatever cab it is done in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

from rich.console import Console

from assistant import assets
from assistant.cli import build
from assistant.core.dialogue import State
from assistant.core.events import Begun, Effect, Event, Setup, TestId, Verdict
from assistant.log import SessionLog, reopen
from assistant.mouth.console import Captions
from assistant.review.replay import fold
from assistant.session import Cab, Session
from assistant.soundcard.hush import hushed

Mode = Literal["live", "recording", "typed"]


@dataclass(frozen=True)
class Start:
    """A check begins, or goes on, `at_ms` into it. `verdicts`: those that are there already."""

    at_ms: int
    log: Path
    setup: Setup
    verdicts: Mapping[TestId, Verdict]


Starting = Callable[[Start], None]


class Screen(Protocol):
    """What shows the check."""

    def show(self, at_ms: int, event: Event | None, effects: tuple[Effect, ...]) -> None:
        """One event and what came of it. None: nothing happened, something is to be said."""

    def note(self, text: str) -> None:
        """A sentence about the devices or the log."""


def _no_matter(start: Start) -> None:
    del start


class Run:
    """What one run of the command prints to and speaks with. `mode`: goes into the log."""

    def __init__(self, mode: Mode, *, brief: bool, unit: Literal["psi", "kPa"] = "psi") -> None:
        self.mode: Mode = mode
        self.console = Console(highlight=False)
        self.prompts = assets.prompts(brief=brief)
        self.captions = Captions(self.console, self.prompts, build.language(unit).written)
        self.screen: Screen = self.captions

    def begin(
        self, setup: Setup, cab: Cab, place: Path, recording: Path | None = None, starting: Starting = _no_matter
    ) -> State:
        """Run a new check in `cab`, with its log in `place`."""
        header = build.header(setup, self.mode, recording)
        dialogue = build.dialogue_for(setup)
        session = Session(dialogue, self.prompts, SessionLog.create(place, header), cab, self.show)
        with hushed():
            starting(Start(0, session.log.path, setup, {}))
            state = session.begin(Begun(setup=setup))
        return self._kept(session, state)

    def resume(self, path: Path, cab: Cab, starting: Starting = _no_matter) -> State:
        """Go on with the interrupted check of a session log."""
        log, kept = reopen(path)
        dialogue = build.dialogue_for(kept.header.setup)
        state = fold(dialogue, kept.entries)
        session = Session(dialogue, self.prompts, log, cab, self.show)
        at_ms = kept.entries[-1].t_ms
        with hushed():
            starting(Start(at_ms, path, kept.header.setup, state.verdicts))
            state = session.resume(state, at_ms)
        return self._kept(session, state)

    def show(self, at_ms: int, event: Event | None, effects: tuple[Effect, ...]) -> None:
        """Put an event and what came of it on the screen. None: nothing happened, something is to be said."""
        self.screen.show(at_ms, event, effects)

    def warn(self, why: str) -> None:
        self.screen.note(why)

    def incomplete(self, state: State) -> bool:
        return not build.dialogue_for(state.setup).finished(state)

    def tell_where(self, state: State) -> None:
        """The last lines: where the log is, its head, and how to go through it again."""
        session = self._session
        path = session.log.path
        lines = [
            f"Session log: {path}",
            f"Its head is {session.log.head}. Note it elsewhere to show later that nothing was changed.",
            f"Replay it:   gladhand replay {path}",
            f"Verify it:   gladhand replay {path} --verify",
        ]
        if self.incomplete(state):
            lines.append(f"Go on:       gladhand check {'' if self.mode == 'live' else '--typed '}--resume {path}")
        self.console.print("\n" + "\n".join(lines), soft_wrap=True, markup=False)

    def _kept(self, session: Session[State], state: State) -> State:
        self._session = session
        return state
