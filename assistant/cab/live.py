"""The cab itself: a microphone, a loudspeaker and the clock on the wall.

Law: everything that happens, whatever thread it comes from, is an event in one inbox, and one thread empties it. The
ears are deaf while the assistant speaks, by zeros and not by a pause. What is lost is told of by what still works.
"""

from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from assistant.cab.clock import CheckClock, Clocks
from assistant.cab.keeping import SoundFolder
from assistant.cab.listening import Ears
from assistant.cab.speaking import Finished, Mouth
from assistant.core.events import Device, Event, Heard
from assistant.core.trouble import Missing, Trouble
from assistant.ears.microphone import Microphone
from assistant.ears.recogniser import Recogniser
from assistant.log import sound_folder
from assistant.mouth.player import Player
from assistant.mouth.voice import Voice
from assistant.soundcard.portaudio import SoundCard

_SLICE_S = 0.1  # between two looks at the clocks
_HEAR_OUT_MS = 6000  # who began to answer before the time was up is not talked over, but for no longer than this
_TICK_MS = 10_000  # between two signals that a time is running
_NOTHING_MS = 1500  # without a word after an interruption it was none
_LAST_WORDS_S = 60.0


@dataclass(frozen=True)
class Devices:
    """By name or a part of it, None: the default. `loudness`: 0 to 1. `tones`: signals besides words."""

    microphone: str | None = None
    loudspeaker: str | None = None
    voice: str | None = None
    rate_wpm: int = 160
    loudness: float = 1.0
    tones: bool = True
    quiet: bool = False


@dataclass(frozen=True)
class Interrupted:
    """The driver has begun to speak over the assistant."""


Happening = Event | Finished | Interrupted | Trouble


class LiveCab:
    """`make_ears`: makes the recogniser, on another thread. `told`: gets sentences for the screen."""

    def __init__(
        self, devices: Devices, make_ears: Callable[[], Recogniser], clocks: Clocks, told: Callable[[str], None]
    ) -> None:
        self.clock = CheckClock(clocks)
        self._told = told
        self._devices = devices
        self._inbox: queue.SimpleQueue[tuple[int, Happening]] = queue.SimpleQueue()
        self._waiting: tuple[int, Happening] | None = None
        self._ticked_ms: int | None = None
        self._was_speaking = False
        self._rest = ""  # of a turn that was interrupted ...
        self._rest_at: int | None = None  # ... and when it is said after all
        card = SoundCard()
        self.microphone = Microphone(
            card,
            devices.microphone,
            lambda why: self.post(Device(device="microphone", state="lost", detail=why)),
            lambda: self.post(Device(device="microphone", state="back")),
        )
        self._player = Player(
            card,
            devices.loudspeaker,
            lambda why: self.post(Device(device="loudspeaker", state="lost", detail=why)),
            lambda: self.post(Device(device="loudspeaker", state="back")),
        )
        self._voice = Voice(devices.rate_wpm, devices.loudness, devices.voice)
        self._mouth = Mouth(self._voice, self._player, self.microphone, self.post, tones=devices.tones)
        self._ears = Ears(
            self.microphone,
            make_ears,
            self.clock,
            heard=self.post,
            failed=self.post,
            interrupted=lambda: self.post(Interrupted()),
        )

    def open(self, ways_out: str) -> None:
        """Open the devices. Raises Missing without a microphone, with the `ways_out`, and for a voice that was named
        and is not there; a loudspeaker that is missing is an event."""
        if self._devices.voice and not self._devices.quiet:
            self._voice.check_voice(self._devices.voice)
        try:
            self.microphone.open()
        except Missing as trouble:
            raise Missing(f"{trouble} Without a microphone: {ways_out}.") from trouble
        if not self._devices.quiet:
            try:
                self._player.open()
            except Missing as trouble:
                self._told(str(trouble))
                self.post(Device(device="loudspeaker", state="lost", detail=str(trouble)))
        self._ears.open()

    def start(self, from_ms: int, log: Path | None) -> None:
        """The check begins, or goes on, `from_ms` into it. `log`: the sound of what is heard is kept beside it.

        What was heard before is no part of it; what happened to the devices is.
        """
        self.clock.start(from_ms)
        before, self._waiting = [self._waiting] if self._waiting else [], None
        while not self._inbox.empty():
            before.append(self._inbox.get())
        for _, what in before:
            if not isinstance(what, Heard):
                self.post(what)
        self._ears.folder = None if log is None else SoundFolder(sound_folder(log), self._told)

    def prepare(self, texts: Iterable[str]) -> None:
        """Lines that will be said, rendered ahead."""
        self._mouth.prepare(texts)

    def post(self, what: Happening) -> None:
        """Something happened; any thread may tell, and a signal handler."""
        self._inbox.put((self.clock.now_ms(), what))

    def next(self, until_ms: int | None, holding: bool) -> tuple[int, Event] | None:
        while True:
            slept = self.clock.slept_s()
            if slept:
                return self.clock.now_ms(), _slept(slept)
            self._tick(holding)
            self._say_rest()
            if self._due_first(until_ms, holding):
                return None
            if self._waiting is None:
                continue
            (at_ms, what), self._waiting, self._was_speaking = self._waiting, None, False
            event = self._event(what, holding)
            if event is not None:
                return at_ms, event

    def say(self, spoken: str, at_ms: int) -> None:
        del at_ms
        self._rest, self._rest_at = "", None
        self._mouth.say(spoken)

    @property
    def hearing(self) -> str:
        """What is being said at this moment, as far as it was understood; for showing only."""
        return self._ears.partial

    def speak_out(self) -> None:
        """Wait until everything that was given has been said."""
        end = time.monotonic() + _LAST_WORDS_S
        while self._mouth.speaking and time.monotonic() < end:
            with contextlib.suppress(queue.Empty):
                _, what = self._inbox.get(timeout=_SLICE_S)
                if isinstance(what, Finished):
                    self._mouth.finished(what, listen=False)

    def close(self) -> None:
        """Give the devices back; what is being said is cut."""
        self._mouth.close()
        self._ears.close()
        self._player.close()
        self.microphone.close()
        self._voice.close()

    def _due_first(self, until_ms: int | None, holding: bool) -> bool:
        """Wait a little for what comes next; whether `until_ms` was reached before it."""
        left = _SLICE_S
        if until_ms is not None and not self._was_speaking:
            left = min(_SLICE_S, max(0.0, self.clock.seconds_until(until_ms)))
        if self._waiting is None:
            with contextlib.suppress(queue.Empty):
                self._waiting = self._inbox.get(timeout=left) if left else self._inbox.get_nowait()
        if until_ms is None:
            return False
        if self._waiting is not None:
            return self._waiting[0] >= until_ms and not self._was_speaking
        now = self.clock.now_ms()
        self._was_speaking = not holding and bool(self._ears.partial) and now < until_ms + _HEAR_OUT_MS
        return now >= until_ms and not self._was_speaking

    def _event(self, what: Happening, holding: bool) -> Event | None:
        """What the check gets to know of it."""
        if isinstance(what, Trouble):
            raise what
        if isinstance(what, Interrupted):
            if self._mouth.speaking:
                self._mouth.cut()
                self._rest_at = self.clock.now_ms() + _NOTHING_MS
            return None
        if isinstance(what, Finished):
            if self._rest_at is not None:
                self._rest = " ".join([self._rest, *what.turn.sentences[what.turn.spoken :]]).strip()
            return self._mouth.finished(what, listen=not holding)
        if isinstance(what, Heard) and self._rest_at is not None:
            self._rest_at = self.clock.now_ms()  # what is answered replaces the rest; the rest follows what is not
        if isinstance(what, Device) and what.state == "lost":
            self._mouth.tone("attention")
        elif isinstance(what, Heard) and not self._mouth.has_voice:
            self._mouth.tone("heard")
        return what

    def _say_rest(self) -> None:
        """Who was cut off by mere noise goes on."""
        if self._rest_at is None or self._ears.partial or self.clock.now_ms() < self._rest_at:
            return
        rest, self._rest, self._rest_at = self._rest, "", None
        if rest:
            self._ears.interrupting.false_alarm()
            self._mouth.say(rest)

    def _tick(self, holding: bool) -> None:
        now = self.clock.now_ms()
        if not holding:
            self._ticked_ms = None
        elif self._ticked_ms is None or now - self._ticked_ms >= _TICK_MS:
            if self._ticked_ms is not None:
                self._mouth.tone("time running")
            self._ticked_ms = now


def _slept(seconds: float) -> Device:
    return Device(device="clock", state="back", detail=f"The machine slept, or its clock jumped, for {seconds:.1f} s.")
