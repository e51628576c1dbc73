"""A driver who listens, works the simulated vehicle, reads its needles and speaks.

Law: the driver knows what was said, the needles and the signals; never the faults, the limits or what the assistant
makes of the words. All chance comes from one seed, so a driver can be had again. Like a careful person it compares
every read-back with what it meant, and what was not understood it says again.
"""

from __future__ import annotations

from random import Random

from assistant.core.events import Line, Reading
from assistant.core.prompts import asks_again
from assistant.vehicle.cab import Happening
from assistant.vehicle.deeds import Deeds
from assistant.vehicle.habits import USUAL, Habits
from assistant.vehicle.handling import Answer, Deed, Seen
from assistant.vehicle.spoken import Spoken
from assistant.vehicle.tongue import Tongue
from assistant.vehicle.vehicle import Vehicle

SECOND_TRY_MS = 15_000
"""After this long without a reaction people say it again."""
MOST_TRIES = 6
"""The same answer so often in vain, and the driver leaves the test."""


_QUESTIONS = ("repeat", "say again", "help", "what is the limit", "where are we", "why")
_CHATTER = ("did you see the weather today", "i will be with you in the yard", "the coffee is cold again")
_RESTARTS = frozenset({"flow.back", "flow.again", "flow.resumed", "flow.next-test", "hold.broken"})
_NEEDLES = ("primary", "secondary", "both at")
_TOO_LATE = frozenset({"again.too-late", "again.nothing-to-correct"})
_READ_BACK = ("readback.readings", "readback.corrected")


class Driver:
    """`vehicle`: the one to work; it is moved by whoever moves the time."""

    def __init__(self, vehicle: Vehicle, seed: int, habits: Habits = USUAL) -> None:
        self._chance = Random(seed)
        self._tongue = Tongue(self._chance)
        self._deeds = Deeds(vehicle)
        self._habits = habits
        self._detours = habits.most_detours
        self._asked: Line | None = None
        self._put_off: Line | None = None
        self._deed: Deed | None = None
        self._answer: Answer | None = None
        self._meant: Seen = {}
        self._next: str | None = None
        self._last = ""
        self._now_ms = self._wait_ms = 0
        self._spoke_ms: int | None = None
        self._tries = 0
        self._digits = False
        self._mending = False

    def notice(self, heard: tuple[Happening, ...]) -> None:
        """What could be heard and seen while time passed; to be called whenever it has."""
        self._deeds.notice(heard)

    def hear(self, lines: tuple[Line, ...]) -> None:
        """What was said to the driver has just ended."""
        self._spoke_ms = None
        prompts = {line.prompt for line in lines}
        again = any(map(asks_again, lines))
        mended = self._mends(lines, again, too_late=bool(prompts & _TOO_LATE))
        asked = next((line for line in reversed(lines) if line.prompt.startswith(("ask.", "not-yet."))), None)
        if prompts & {"flow.standing-by", "flow.stopped"}:
            self._deed = None
            self._plan("continue", self._chance.uniform(5, 30))
        elif asked is not None and asked.prompt.startswith("not-yet."):
            self._take(asked.model_copy(update={"prompt": f"ask.{asked.prompt[8:]}"}), anew=True, mended=mended)
        elif asked is not None:
            self._take(asked, anew=bool(prompts & _RESTARTS), mended=mended)
        elif self._put_off is not None:
            self._take(self._put_off, anew=True, mended=True)
        elif again and not mended:
            self._say_again("again.digits" in prompts, exactly=any(prompt.startswith("odd.") for prompt in prompts))

    def speak(self, now_ms: int) -> Spoken | None:
        """The next thing to say, if it is time for it; to be called at least every 0.1 s while nobody speaks."""
        self._now_ms = now_ms
        if now_ms < self._wait_ms:
            return None
        if self._next is None and self._deed is not None and not self._mending:
            self._go_on(self._deed)
        if self._next is not None and now_ms >= self._wait_ms:
            self._last, self._next = self._next, None
            self._spoke_ms = now_ms
            return Spoken(self._last, self._meant, reads=any(word in self._last for word in _NEEDLES))
        if self._spoke_ms is not None and now_ms - self._spoke_ms > SECOND_TRY_MS:
            self._spoke_ms = None
            self._no_reaction()
        return None

    # --- what was asked ---

    def _take(self, asked: Line, anew: bool, mended: bool) -> None:
        """Begin to do what is asked, unless it is being done or was answered already."""
        same = self._asked is not None and asked.prompt == self._asked.prompt and not anew
        if asked.prompt == "ask.leak-hold":
            self._hold(asked, mended)
        elif asked.prompt in ("ask.and-the-reading", "ask.other-needle"):
            self._plan(self._tongue.readings(self._meant, plainly=True), 0.5)
        elif asked.prompt == "ask.skip-reason":
            self._plan("no time", 0.8)
        elif same and self._answer is not None:
            if not mended:
                self._say_again(digits=False)
        elif not (same and self._deed is not None):
            if not same:
                self._tries, self._digits = 0, False
            if not mended:
                self._next = None  # what was still to be said belongs to an earlier question
            self._begin(asked)
            if not mended and self._put_off is None:
                self._detour(asked)
            self._put_off = self._put_off if self._deed is None else None

    def _begin(self, asked: Line) -> None:
        pressure = asked.values.get("pressure")
        self._asked, self._answer = asked, None
        self._deed = self._deeds.deed(
            asked.prompt.removeprefix("ask."), pressure.value if isinstance(pressure, Reading) else None
        )
        if self._next is None:
            self._wait_ms = self._now_ms + round(self._chance.uniform(300, 1200))

    def _hold(self, asked: Line, mended: bool) -> None:
        """Nothing to do but keep still; some ask how long it takes, or break it off."""
        self._asked, self._answer, self._deed = asked, None, None
        if not mended and self._detours > 0 and self._chance.random() < self._habits.breaks_in:
            self._detours -= 1
            self._plan(self._chance.choice(("how long left", "stand by", "what is the limit")), 20.0)

    def _go_on(self, deed: Deed) -> None:
        try:
            self._wait_ms = self._now_ms + round(1000 * next(deed))
        except StopIteration as done:
            self._deed, self._answer = None, done.value
            self._give(done.value)

    # --- the answer in words ---

    def _give(self, answer: Answer) -> None:
        """A slip is mended in the same breath, or after the read-back."""
        if not answer.seen:
            self._plan(self._chance.choice(answer.say), 0.0 if answer.spent else self._chance.uniform(0.2, 0.8))
            return
        self._meant = answer.seen
        moment = self._chance.choice(answer.say) if answer.say else ""
        if moment.startswith("no "):  # has to be said by itself
            self._plan(moment, 0.3)
            return
        said = self._tongue.readings(answer.seen, digits=self._digits, plainly=self._tries > 0)
        if not self._tries and self._chance.random() < self._habits.slips:
            said = self._tongue.readings(self._tongue.slip(answer.seen), plainly=True)
            if self._chance.random() < 0.5:
                said = f"{said} correction {self._tongue.readings(answer.seen, plainly=True)}"
        self._plan(self._tongue.with_moment(said, moment) if moment else said, self._chance.uniform(0.1, 0.5))

    def _say_again(self, digits: bool, exactly: bool = False) -> None:
        """Once more, plainly; a moment that has passed can't be said again, so the test is begun again."""
        answer = self._answer
        if answer is None:
            return
        self._tries += 1
        self._digits = digits
        if self._tries > MOST_TRIES:
            self._answer = None
            self._plan("skip no time", 1.0)
        elif answer.spent:
            self._plan("cancel", 0.8)
        elif answer.fleeting and not exactly and self._asked is not None:
            self._begin(self._asked)
        elif not answer.seen:
            self._plan(answer.say[self._tries % len(answer.say)], 0.6)
        elif answer.say and answer.say[0].startswith("no "):
            self._plan(self._last, 0.6)
        else:
            words = self._tongue.readings(answer.seen, plainly=True, digits=digits)
            self._plan(self._tongue.with_moment(words, answer.say[0]) if answer.say else words, 0.6)

    def _mends(self, lines: tuple[Line, ...], again: bool, too_late: bool) -> bool:
        """Correct a read-back that differs from what was meant, until it is right; what is asked again anyway is just
        said again. Whether there is something to correct."""
        read_back = [line for line in lines if line.prompt in _READ_BACK]
        wrong = any(not _agrees(line, self._meant) for line in read_back)
        if read_back or too_late:
            self._mending = False
        if self._tries > MOST_TRIES or not (wrong or (self._mending and again)):
            return False
        self._tries += 1
        self._mending = wrong and not again
        self._correct(bare=again and wrong)
        return True

    def _correct(self, bare: bool) -> None:
        words = self._tongue.readings(self._meant, plainly=True, digits=self._tries > 2)
        self._plan(words if bare else f"correction {words}", 0.6)

    def _no_reaction(self) -> None:
        if self._mending and self._tries <= MOST_TRIES:
            self._tries += 1
            self._correct(bare=False)
        elif self._put_off is not None:
            self._take(self._put_off, anew=True, mended=True)
        else:
            self._say_again(digits=False)

    # --- what else people say ---

    def _detour(self, asked: Line) -> None:
        """Now and then something else comes first; what was asked is done when that is over."""
        habits, draw = self._habits, self._chance.random()
        for share, words in (
            (habits.asks, self._chance.choice(_QUESTIONS)),
            (habits.pauses, "stand by"),
            (habits.goes_back, "go back"),
            (habits.starts_over, "cancel"),
            (habits.skips, "skip no time"),
            (habits.chats, self._chance.choice(_CHATTER)),
        ):
            if 0.0 <= draw < share and self._detours > 0:
                self._detours -= 1
                self._asked, self._deed, self._put_off = None, None, asked
                self._plan(words, self._chance.uniform(0.5, 2.0))
            draw -= share

    def _plan(self, text: str, after_s: float) -> None:
        self._next = text
        self._wait_ms = self._now_ms + round(1000 * after_s)


def _agrees(line: Line, meant: Seen) -> bool:
    """Whether every reading that was read back is one of those meant."""
    readings = line.values.get("readings")
    if not isinstance(readings, tuple):
        return True
    return all(
        reading.value == meant.get(reading.needle) if reading.needle else reading.value in meant.values()
        for reading in readings
    )
