"""A trainee who talks through the check while doing it: works the simulated vehicle and says what is seen, unasked.

Law: as a driver, the reciter knows the needles and the signals, never the faults; what is to be said and done, in which
order, comes in a script. It listens to nobody: in a recital nobody asks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from assistant.core.events import Line, TestId
from assistant.core.numbers import spoken
from assistant.vehicle.cab import Happening
from assistant.vehicle.deeds import Deeds
from assistant.vehicle.handling import Answer, Seen
from assistant.vehicle.spoken import Spoken
from assistant.vehicle.vehicle import Vehicle

BREATH_S = 0.6
"""Between two sentences. Assumption."""
Way = Literal["words", "deed", "wait", "forget", "reading", "judgement"]
_DONE = "that is all"
_STAYS = "it is not driven before somebody has repaired it"
_LEAKS = ("static-leakage", "applied-leakage")
_EVENTS = {"governor-cut-out": "it cut out", "governor-cut-in": "it cut in", "low-air-warning": "it came on"}
_FELT = {
    "parking-brake": ("held", "holding", "it held", "it moved"),
    "trailer-brake": ("held", "holding", "it held", "it moved"),
    "hand-valve": ("yes", "i felt", "i felt it grab", "i did not feel it"),
    "service-brake": ("straight", "no pull", "it stopped straight", ""),
}


@dataclass(frozen=True)
class Part:
    """One thing of the script. `text`: the words, or the deed (what would be asked, without "ask."); `pressure`: the
    bound in it, psi; `seconds`: to wait; `moves`: only for a vehicle that may move. "forget": what was seen before
    belongs to no reading."""

    way: Way
    test: TestId
    text: str = ""
    pressure: float | None = None
    seconds: float = 0.0
    moves: bool = False


class Judgement(NamedTuple):
    """`stays`: after this the vehicle is not moved."""

    words: str
    stays: bool


class Reciter:
    """`judge`: from a test and all that was said so far to the judgement."""

    def __init__(
        self, vehicle: Vehicle, script: Sequence[Part], judge: Callable[[TestId, Sequence[str]], Judgement]
    ) -> None:
        self._vehicle = vehicle
        self._deeds = Deeds(vehicle)
        self._script = script
        self._judge = judge
        self._said: list[str] = []
        self._seen: list[Answer] = []
        self._marks: list[float] = []
        self._wait_ms = 0
        self._going = self._talk()

    def notice(self, heard: tuple[Happening, ...]) -> None:
        """What could be heard and seen while time passed."""
        self._deeds.notice(heard)

    def hear(self, lines: tuple[Line, ...]) -> None:
        """A reciter goes on, whatever is said."""

    def speak(self, now_ms: int) -> Spoken | None:
        """The next thing to say, if it is time for it."""
        if now_ms < self._wait_ms:
            return None
        step = next(self._going, None)
        if isinstance(step, str):
            self._said.append(step)
            self._wait_ms = now_ms + round(1000 * BREATH_S)
            return Spoken(step, {}, reads=False)
        self._wait_ms = now_ms + round(1000 * (60.0 if step is None else step))
        return None

    def _talk(self) -> Iterator[float | str]:
        """Seconds to let pass, and sentences."""
        stays = False
        for part in self._script:
            if part.moves and stays:
                continue
            if part.way == "words":
                yield part.text
            elif part.way == "wait":
                yield part.seconds
            elif part.way == "deed":
                yield from self._do(part)
            elif part.way == "reading":
                if words := self._reading(part.test):
                    yield words
            elif part.way == "forget":
                self._seen, self._marks = [], []
            else:
                judged = self._judge(part.test, tuple(self._said))
                yield judged.words
                if judged.stays and not stays:
                    stays = True
                    yield _STAYS
        yield _DONE

    def _do(self, part: Part) -> Iterator[float]:
        deed = self._deeds.deed(part.text, part.pressure)
        if deed is None:
            return
        while True:
            try:
                yield next(deed)
            except StopIteration as done:
                self._seen.append(done.value)
                self._marks.append(self._vehicle.now_s)
                return

    def _reading(self, test: TestId) -> str:
        """What was seen, in words; nothing where nothing came of it."""
        seen = [answer.seen for answer in self._seen]
        last = self._seen[-1] if self._seen else Answer()
        if test in _FELT:
            good, other, yes, no = _FELT[test]
            felt = any(word in last.say[0] for word in (good, other))
            return yes if felt else no or last.say[0]
        if test == "build-up":
            return "" if not last.spent else f"it took {spoken(round(self._marks[-1] - self._marks[-2]))} seconds"
        if test in _LEAKS:
            return _fall(seen[0], seen[-1])
        if not last.seen or last.say[:1] == ("no light and no buzzer",):
            return "it did not come on" if test == "low-air-warning" else "it did not pop"
        pick = max if test == "governor-cut-out" else min
        return f"{_EVENTS.get(test, 'it popped')} at {spoken(round(pick(last.seen.values())))} psi"


def _fall(before: Seen, after: Seen) -> str:
    """The needle that fell furthest."""
    needle = max(before, key=lambda name: before[name] - after[name])
    return f"it went from {spoken(round(before[needle]))} to {spoken(round(after[needle]))} psi"
