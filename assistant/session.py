"""The loop: take an event, reduce, append to the log, perform the effects, keep the deadlines.

Law: in this order. A crash between append and perform asks the question again; nothing is lost, nothing is doubled.
Live check, recording, typed input and rehearsal differ only in the cab that events come from and words go to.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Generic, Protocol

from assistant.core.events import Begun, Device, Due, Effect, Ended, Event, Resumed, Say, StartTimer
from assistant.core.flow import Flow, S
from assistant.core.prompts import Prompts
from assistant.core.trouble import LogTrouble
from assistant.log import SessionLog


class Cab(Protocol):
    """Events in, words out. Times are ms of the check, on the cab's own clock."""

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        """The next event, or None when the clock reached `until_ms` first. `holding`: a timed hold is running."""

    def say(self, spoken: str, at_ms: int) -> None:
        """Start to speak; a `Said` event follows when the last word has left."""


Watcher = Callable[[int, Event, tuple[Effect, ...]], None]


def boot_clock_ns() -> int:
    """Nanoseconds of a clock that goes on while the machine sleeps, where there is one."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic_ns() if clock is None else time.clock_gettime_ns(clock)


class Session(Generic[S]):
    """One check or recital, from its first event until it is closed. `watch` is called with each event once it is in
    the log."""

    def __init__(self, flow: Flow[S], prompts: Prompts, log: SessionLog, cab: Cab, watch: Watcher) -> None:
        self._flow = flow
        self._prompts = prompts
        self._cab = cab
        self._watch = watch
        self._timers: dict[str, int] = {}
        self._at_ms = 0
        self.log = log

    def begin(self, event: Begun) -> S:
        """Run a new check until it is closed."""
        return self._run(self._commit(0, event, *self._flow.begin(event)))

    def resume(self, state: S, at_ms: int) -> S:
        """Go on with an interrupted check, `at_ms` into it."""
        return self._run(self._take(state, at_ms, Resumed()))

    def _run(self, state: S) -> S:
        now = 0
        try:
            while state.mode != "closed":
                now, event = self._next(state)
                state = self._take(state, now, event)
        except KeyboardInterrupt:
            state = self._take(state, now, Ended(why="told to stop"))
        if self._flow.finished(state):
            self._seal()
        else:
            self.log.close()
        return state

    def _next(self, state: S) -> tuple[int, Event]:
        timer, due = min(self._timers.items(), key=lambda item: item[1], default=(None, None))
        arrived = self._cab.next(due, holding=state.hold is not None)
        if arrived is not None:
            self._at_ms = arrived[0]
            return arrived
        if timer is None or due is None:
            raise RuntimeError("a cab may only return nothing when there was a deadline")
        del self._timers[timer]
        self._at_ms = max(due, self._at_ms)  # who was speaking when it ran out has been heard out first
        return self._at_ms, Due(timer=timer)

    def _take(self, state: S, at_ms: int, event: Event) -> S:
        return self._commit(at_ms, event, *self._flow.reduce(state, at_ms, event))

    def _commit(self, at_ms: int, event: Event, state: S, effects: tuple[Effect, ...]) -> S:
        lost = self._append(at_ms, event, effects)
        self._watch(at_ms, event, effects)
        for effect in effects:
            self._perform(at_ms, effect)
        return self._take(state, at_ms, lost) if lost is not None else state

    def _append(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> Device | None:
        """Write before anything is spoken; a log that fails goes on in a new file, and the driver is told."""
        wall = datetime.now().astimezone().isoformat(timespec="milliseconds")
        try:
            self.log.append(at_ms, wall, boot_clock_ns(), event, effects)
        except LogTrouble as trouble:
            if not self.log.failed:
                raise
            self._continue_log()
            return Device(device="log", state="back", detail=str(trouble))
        return None

    def _continue_log(self) -> None:
        """Everything so far goes to a new file beside the failed one, or to the folder for temporary files."""
        try:
            self.log = self.log.continue_in(self.log.path.parent)
        except LogTrouble:
            self.log = self.log.continue_in(Path(tempfile.gettempdir()))

    def _seal(self) -> None:
        try:
            self.log.seal()
        except LogTrouble:
            self._continue_log()

    def _perform(self, at_ms: int, effect: Effect) -> None:
        if isinstance(effect, StartTimer):
            self._timers[effect.timer] = effect.due_ms
        elif isinstance(effect, Say):
            self._cab.say(" ".join(filter(None, map(self._prompts.spoken, effect.lines))), at_ms)
