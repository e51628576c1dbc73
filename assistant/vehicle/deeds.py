"""What a driver does for each thing that can be asked, and what there is to say afterwards.

Law: a deed is a generator. It yields the seconds that it lets pass and returns the answer; it never knows why it is
asked, which limit is behind it, or what is wrong with the vehicle.
"""

from __future__ import annotations

from collections.abc import Callable, Generator

from assistant.vehicle.handling import CAN_NOT, GIVEN_UP, LOOK, STILL, Answer, Deed, Knob
from assistant.vehicle.rolling import Rolling

NO_WARNING = 46.0
"""psi of the lower needle at which a driver no longer waits for the warning; below every limit for it."""
FALLING = 60
"""Seconds for which a needle that goes on falling is watched."""
EMPTY = 15.0
"""psi of the higher needle at which a knob that is still in stays in."""


class Deeds(Rolling):
    """One driver in one vehicle."""

    def deed(self, asked: str, pressure: float | None) -> Deed | None:
        """What to do when `asked` (a prompt id without "ask."); None: nothing can be done about it.

        `pressure`: the bound in the question, psi, where it has one.
        """
        known: dict[str, Callable[[], Deed]] = {
            "parked": self._park,
            "chocked": self._chock,
            "clear": self._say("yes", "affirmative"),
            "way-clear": self._say("yes", "affirmative"),
            "engine-on": self._start_engine,
            "engine-off": self._stop_engine,
            "released": self._release,
            "released-trailer": self._release,
            "unloaded": self._charge,
            "charged": self._charge,
            "pedal": self._press_pedal,
            "rebuilt": lambda: self._rebuild(pressure or 0.0),
            "chocks-out": self._take_chocks,
            "trailer-set": self._set_trailer,
            "build-up-below": lambda: self._come_below(pressure or 0.0),
            "build-up-start": lambda: self._call("start", pressure or 0.0),
            "build-up-mark": lambda: self._call("mark", pressure or 0.0),
            "governor-cut-out": self._cut_out,
            "governor-cut-in": self._cut_in,
            "leak-first": self._read_when_still,
            "leak-last": self._read_at_once,
            "low-air-warning": self._warning,
            "light": self._yes_if(lambda: self.vehicle.signals().light),
            "buzzer": self._yes_if(lambda: self.vehicle.signals().buzzer),
            "trailer-supply-pop-out": lambda: self._pop_out("trailer knob"),
            "parking-valve-pop-out": lambda: self._pop_out("parking knob"),
            "parking-tug": self.tug_parking,
            "parking-tug-trailer": self.tug_parking,
            "trailer-tug": self.tug_trailer,
            "hand-valve": self.hand_valve,
            "service-brake": self.service_brake,
            "ending": self._say("continue"),
        }
        return known[asked]() if asked in known else None

    def _say(self, *words: str) -> Callable[[], Deed]:
        def deed() -> Deed:
            yield 0.3
            return Answer(words)

        return deed

    def _yes_if(self, so: Callable[[], bool]) -> Callable[[], Deed]:
        def deed() -> Deed:
            yield 0.5
            return Answer(("yes",) if so() else ("no",))

        return deed

    # --- gates ---

    def _park(self) -> Deed:
        self.put(throttle=0.0, gear="neutral", hand_valve=0.0)
        if self.vehicle.signals().moving:
            yield from self.halt()
        self.put(pedal=0.0)
        if self.is_in("parking knob"):
            self.put(parking_knob="out")
            yield 1.5
        yield 0.5
        return Answer(("brakes are set", "parking brake is set", "the brakes are set"))

    def _chock(self) -> Deed:
        self.put(chocks="in")
        yield 4.0
        return Answer(("wheels are chocked", "chocks are in", "chocks in place"))

    def _take_chocks(self) -> Deed:
        yield 15.0
        self.put(chocks="out")
        yield 5.0
        return Answer(("chocks are out", "chocks removed"))

    def _start_engine(self) -> Deed:
        self.put(pedal=0.0, key="on", engine="on")
        yield 3.0
        return Answer(("engine running", "engine is running", "the engine is running"))

    def _stop_engine(self) -> Deed:
        self.put(throttle=0.0, engine="off", key="on")
        yield 3.0
        return Answer(("engine off", "engine is off", "the engine is off"))

    def _release(self) -> Deed:
        """Knobs in, trailer first; without enough air they would not stay, so there has to be some."""
        running = self.vehicle.signals().engine
        if self.highest() < 70.0 and not (yield from self.fill(lambda: self.lowest() >= 90.0)):
            return CAN_NOT
        self.put(trailer_knob="in")
        yield 1.0
        self.put(parking_knob="in")
        yield 10.0
        if not running:
            self.put(throttle=0.0, engine="off", key="on")
        self.popped.clear()
        return Answer(("brakes released", "brakes are released", "parking brake released"))

    def _charge(self) -> Deed:
        """To the cut-out. Where the compressor rests at a good pressure, that is as full as it gets."""
        self.purged = False
        full = yield from self.fill(lambda: self.purged)
        self.put(throttle=0.0)
        yield 1.0
        return Answer(("done", "needle stopped")) if full or self.lowest() >= 95.0 else CAN_NOT

    def _press_pedal(self) -> Deed:
        self.put(pedal=1.0)
        yield 2.0
        return Answer(("pedal down", "pedal is down", "full application"))

    def _rebuild(self, psi: float) -> Deed:
        self.put(pedal=0.0)
        if not (yield from self.fill(lambda: self.lowest() >= psi + 3.0)):
            return CAN_NOT
        self.put(throttle=0.0)
        yield 1.0
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _set_trailer(self) -> Deed:
        self.put(pedal=0.6, trailer_knob="out")
        yield 2.0
        return Answer(("done",))

    # --- reading at an event ---

    def _come_below(self, psi: float) -> Deed:
        while self.highest() >= psi - 8.0:
            self.put(pedal=0.6)
            yield 1.0
            self.put(pedal=0.0)
            yield 1.5
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _call(self, word: str, psi: float) -> Deed:
        """Say a word at the moment at which the slower needle passes `psi`."""
        self.put(throttle=self.fast)
        best, waited = self.lowest(), 0.0
        while self.lowest() < psi:
            yield LOOK
            waited += LOOK
            if self.lowest() > best + 0.5:
                best, waited = self.lowest(), 0.0
            if waited > 2 * STILL:
                self.put(throttle=0.0)
                return CAN_NOT
        return Answer((word,), spent=True)

    def _cut_out(self) -> Deed:
        """At the cut-out the dryer purges; without one, the needle just stands."""
        self.purged = False
        yield from self.fill(lambda: self.purged, nudge=False)
        yield 2.0
        seen = self.vehicle.readings()
        self.put(throttle=0.0)
        return Answer(seen=seen)

    def _cut_in(self) -> Deed:
        """Gentle applications at idle; after each the needle is watched until it has come to rest (the trailers fill
        up from the tractor for a while), and then whether it climbs by itself."""
        self.put(throttle=0.0)
        while self.lowest() > GIVEN_UP:
            self.put(pedal=0.25)
            yield 1.0
            self.put(pedal=0.0)
            yield 2.5
            yield from self._come_to_rest()
            before, seen = self.lowest(), self.vehicle.readings()
            yield 5.0
            if self.lowest() > before + 0.15:
                return Answer(seen=seen)
        return CAN_NOT

    def _come_to_rest(self) -> Generator[float, None, None]:
        """Wait while the needle falls, and not for ever."""
        for _ in range(FALLING):
            before = self.lowest()
            yield 1.0
            if self.lowest() > before - 0.05:
                return

    def _warning(self) -> Deed:
        self.put(throttle=0.0)
        came = yield from self.pump(lambda: self.warned is not None, lambda: self.lowest() < NO_WARNING)
        signals = self.vehicle.signals()
        seen = self.warned if came and self.warned else self.vehicle.readings()
        yield 0.8
        if signals.light and signals.buzzer:
            return Answer(("light and buzzer on", "light on buzzer on", "both light and buzzer on"), seen)
        if not (signals.light or signals.buzzer):
            return Answer(("no light and no buzzer", "no light no buzzer"), seen)
        return Answer(("light on",) if signals.light else ("buzzer on",), seen)

    def _pop_out(self, knob: Knob) -> Deed:
        self.put(throttle=0.0)
        if self.is_in(knob):
            yield from self.pump(lambda: not self.is_in(knob), lambda: self.highest() < EMPTY)
        yield 0.8
        if self.is_in(knob):
            return Answer(("did not pop", "it stayed in"))
        seen = self.popped.get(knob, self.vehicle.readings())
        felt = max(seen, key=lambda needle: seen[needle])  # a double check valve gives the knob the higher one
        return Answer((f"{knob} popped", f"the {knob} popped out"), {felt: seen[felt]})

    # --- holds ---

    def _read_when_still(self) -> Deed:
        yield 12.0
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _read_at_once(self) -> Deed:
        yield 0.5
        return Answer(seen=self.vehicle.readings(), fleeting=True)
