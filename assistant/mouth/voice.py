"""The voice: a line in, its samples out, or the plain reason why there are none.

Law: nobody waits for a voice for ever. One thread of its own owns the engines and renders; callers wait for it with a
limit. The engines are tried in order (pyttsx3 in a child process, then the program espeak-ng); without any, lines are
`Silent` and captions go on.
"""

from __future__ import annotations

import itertools
import queue
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np

from assistant.core.trouble import Missing, Trouble
from assistant.mouth.engines import ANSWER_LIMIT_S, ChildEngine, Engine, EngineFailed, ProgramEngine, VoiceName
from assistant.mouth.kept import KeptLines
from assistant.mouth.sound import Sound

RATE_WPM = 160
SLOWEST_WPM, FASTEST_WPM = 80, 450  # what espeak-ng can do
KEPT_BYTES = 8_000_000  # three minutes of speech
WAIT_LIMIT_S = 15.0  # covers a text that hangs in every engine behind another one that does
MOST_FAILURES = 2  # texts in a row
FIRST, URGENT, AHEAD = range(3)
GET_ONE = (
    "Install espeak-ng (on Debian and Ubuntu: apt-get install espeak-ng; elsewhere by the system's package manager). "
    "Until then lines are shown and not spoken."
)

Result = TypeVar("Result")


@dataclass(frozen=True)
class Silent:
    """There is no sound of this line; `reason` says in plain words why, and what to do."""

    reason: str


class Voice:
    """A voice at `rate_wpm` words a minute (80 to 450) and `volume` 0 to 1.

    `voice_id`: a voice's id or name, None or one that is not installed: an English one. The settings hold for the life
    of the object, because the engine can't change them reliably; for others make another one, which takes 0.1 s.
    Every method may be called from any thread. Raises Trouble for a rate or a volume out of range.
    """

    def __init__(
        self,
        rate_wpm: int = RATE_WPM,
        volume: float = 1.0,
        voice_id: str | None = None,
        engines: Iterable[Engine] | None = None,
    ) -> None:
        if not SLOWEST_WPM <= rate_wpm <= FASTEST_WPM:
            raise Trouble(f"{rate_wpm} words a minute can't be spoken. Choose {SLOWEST_WPM} to {FASTEST_WPM}.")
        if not 0.0 <= volume <= 1.0:
            raise Trouble(f"A loudness of {volume:g} does not exist. Choose 0 (silent) to 1 (full).")
        if engines is None:
            settings = (rate_wpm, volume, voice_id or "")
            engines = (ChildEngine(*settings), ProgramEngine(*settings))
        self._engines = list(engines)  # this and what follows belongs to the voice's thread
        self._failures = {engine.name: 0 for engine in self._engines}
        self._faults: dict[str, str] = {}
        self._kept = KeptLines(KEPT_BYTES)
        self._jobs: queue.PriorityQueue[tuple[int, int, Callable[[], object] | None]] = queue.PriorityQueue()
        self._order = itertools.count()
        self._thread = threading.Thread(target=self._work, name="voice", daemon=True)
        self._thread.start()

    def render(self, text: str) -> Sound | Silent:
        """The line as sound. A kept line comes at once, a new one as a rule within 20 ms, every one within 15 s."""
        kept = self._kept.get(text)
        if kept is not None:
            return kept
        late: Sound | Silent = Silent("The voice does not answer. Lines are only shown.")
        return self._wait_for(lambda: self._render(text), late)

    def prepare(self, lines: Iterable[str]) -> None:
        """Renders lines ahead in the background, always behind a `render`. Returns at once."""
        for text in lines:
            self._put(AHEAD, partial(self._render, text))

    def voices(self) -> tuple[VoiceName, ...]:
        """The installed voices by name, empty without an engine; within 15 s."""
        return self._wait_for(self._list, ())

    def check_voice(self, wanted: str) -> None:
        """Raises Missing when there are voices, but none with this id or name; within 15 s."""
        voices = self.voices()
        if voices and not any(wanted.casefold() in (v.id.casefold(), v.name.casefold()) for v in voices):
            raise Missing(f'No voice is called "{wanted}". `gladhand devices` lists the voices of this machine.')

    def close(self) -> None:
        """Ends the engines and their processes; what waits to be prepared is dropped. Within 5 s."""
        self._put(FIRST, None)
        self._thread.join(2 * ANSWER_LIMIT_S + 1.0)

    def _wait_for(self, work: Callable[[], Result], otherwise: Result) -> Result:
        future: Future[Result] = Future()
        self._put(URGENT, lambda: future.set_result(work()))
        try:
            return future.result(WAIT_LIMIT_S if self._thread.is_alive() else 0.0)
        except TimeoutError:
            return otherwise

    def _put(self, urgency: int, job: Callable[[], object] | None) -> None:
        self._jobs.put((urgency, next(self._order), job))

    # --- on the voice's thread ---

    def _work(self) -> None:
        while (job := self._jobs.get()[2]) is not None:
            job()
        for engine in self._engines:
            engine.close()

    def _render(self, text: str) -> Sound | Silent:
        kept = self._kept.get(text)
        if kept is not None:
            return kept
        if not text.strip():
            return Sound(np.zeros(0, np.int16), 16_000)
        for engine in list(self._engines):
            try:
                sound = engine.render(text)
            except EngineFailed as failure:
                self._count(engine, failure)
            else:
                self._failures[engine.name] = 0
                self._kept.put(text, sound)
                return sound
        faults = "; ".join(f"{name}: {fault}" for name, fault in self._faults.items())
        return Silent(f"There is no voice ({faults}). {GET_ONE}")

    def _list(self) -> tuple[VoiceName, ...]:
        for engine in list(self._engines):
            try:
                return engine.voices()
            except EngineFailed as failure:
                self._count(engine, failure)
        return ()

    def _count(self, engine: Engine, failure: EngineFailed) -> None:
        """An engine that is not there, or that failed for two texts in a row, is not asked again."""
        self._faults[engine.name] = str(failure)
        self._failures[engine.name] += 1
        if failure.for_good or self._failures[engine.name] >= MOST_FAILURES:
            self._engines.remove(engine)
            engine.close()
