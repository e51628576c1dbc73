"""What a driver's hands and eyes do for each thing that can be asked, worked on the simulated vehicle.

Law: a deed is a generator. It yields the seconds it lets pass and returns what there is to say; it never moves the time
itself, so whoever runs it decides the pace. It sees the gauge and the signals only, never the condition behind them.
Assumptions: seconds of a person's reactions and patience, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Literal

from assistant.core.events import Needle
from assistant.vehicle.cab import Happening
from assistant.vehicle.vehicle import Vehicle

Seen = dict[Needle, float]
"""What a person has read from the needles, psi."""

LOOK = 0.1
"""Seconds between two looks at the needles."""
STILL = 12.0
"""Seconds without a rise after which a driver believes that the needle stands."""
NUDGES = 12
"""Gentle applications by which a compressor that rests is made to start again."""
GIVEN_UP = 75.0
"""psi at which a driver no longer waits for the compressor to cut in; far below any governor in order."""
NO_WARNING = 46.0
"""psi of the lower needle at which a driver no longer waits for the warning; below every limit for it."""
EMPTY = 15.0
"""psi of the higher needle at which a knob that is still in stays in."""
FULL_ENOUGH = 95.0
"""psi that a driver likes to have before rolling off."""
TUG = 3.0


@dataclass(frozen=True)
class Answer:
    """What there is to say. `say`: wordings to choose from; with `seen`, what goes with the readings, or nothing.

    `spent`: the moment has passed, so that saying it again later would be untrue. `fleeting`: read again before saying
    it again.
    """

    say: tuple[str, ...] = ()
    seen: Seen = field(default_factory=dict)
    spent: bool = False
    fleeting: bool = False


Deed = Generator[float, None, Answer]
CAN_NOT = Answer(("skip it does not work", "skip does not work"))


class Deeds:
    """One driver's hands and eyes in one vehicle. `popped`: where the needles stood when a knob jumped out."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.popped: dict[str, Seen] = {}
        self._warned: Seen | None = None
        self._purged = False
        self._fast = vehicle.cab.throttle_for(vehicle.spec.engine.operating_rpm)

    def notice(self, heard: tuple[Happening, ...]) -> None:
        """Everything that a driver hears and sees in passing; to be called whenever time has passed."""
        self._purged = self._purged or "dryer purged" in heard
        for knob in ("parking knob", "trailer knob"):
            if f"{knob} popped" in heard:
                self.popped[knob] = self.vehicle.readings()
        signals = self.vehicle.signals()
        if not (signals.light or signals.buzzer):
            self._warned = None
        elif self._warned is None:
            self._warned = self.vehicle.readings()

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
            "parking-tug": self._tug_parking,
            "parking-tug-trailer": self._tug_parking,
            "trailer-tug": self._tug_trailer,
            "hand-valve": self._hand_valve,
            "service-brake": self._service_brake,
        }
        return known[asked]() if asked in known else None

    # --- eyes and hands ---

    def _lowest(self) -> float:
        return min(self.vehicle.needles().values())

    def _highest(self) -> float:
        return max(self.vehicle.needles().values())

    def _put(self, **controls: str | float) -> None:
        for name, value in controls.items():
            control = name.replace("_", " ")
            if control in self.vehicle.controls:
                self.vehicle.set(control, value)

    def _is_in(self, knob: Literal["parking knob", "trailer knob"]) -> bool:
        signals = self.vehicle.signals()
        return (signals.parking_knob if knob == "parking knob" else signals.trailer_knob) == "in"

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
        self._put(throttle=0.0, gear="neutral", hand_valve=0.0)
        if self.vehicle.signals().moving:
            yield from self._halt()
        self._put(pedal=0.0)
        if self._is_in("parking knob"):
            self._put(parking_knob="out")
            yield 1.5
        yield 0.5
        return Answer(("brakes are set", "parking brake is set", "the brakes are set"))

    def _chock(self) -> Deed:
        self._put(chocks="in")
        yield 4.0
        return Answer(("wheels are chocked", "chocks are in", "chocks in place"))

    def _take_chocks(self) -> Deed:
        yield 15.0
        self._put(chocks="out")
        yield 5.0
        return Answer(("chocks are out", "chocks removed"))

    def _start_engine(self) -> Deed:
        self._put(pedal=0.0, key="on", engine="on")
        yield 3.0
        return Answer(("engine running", "engine is running", "the engine is running"))

    def _stop_engine(self) -> Deed:
        self._put(throttle=0.0, engine="off", key="on")
        yield 3.0
        return Answer(("engine off", "engine is off", "the engine is off"))

    def _release(self) -> Deed:
        """Knobs in, trailer first; without enough air they would not stay, so there has to be some."""
        running = self.vehicle.signals().engine
        if self._highest() < 70.0 and not (yield from self._fill(lambda: self._lowest() >= 90.0)):
            return CAN_NOT
        self._put(trailer_knob="in")
        yield 1.0
        self._put(parking_knob="in")
        yield 10.0
        if not running:
            self._put(throttle=0.0, engine="off", key="on")
        self.popped.clear()
        return Answer(("brakes released", "brakes are released", "parking brake released"))

    def _charge(self) -> Deed:
        """To the cut-out. Where the compressor rests at a good pressure, that is as full as it gets."""
        self._purged = False
        full = yield from self._fill(lambda: self._purged)
        self._put(throttle=0.0)
        yield 1.0
        return Answer(("done", "needle stopped")) if full or self._lowest() >= 95.0 else CAN_NOT

    def _press_pedal(self) -> Deed:
        self._put(pedal=1.0)
        yield 2.0
        return Answer(("pedal down", "pedal is down", "full application"))

    def _rebuild(self, psi: float) -> Deed:
        self._put(pedal=0.0)
        if not (yield from self._fill(lambda: self._lowest() >= psi + 3.0)):
            return CAN_NOT
        self._put(throttle=0.0)
        yield 1.0
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _set_trailer(self) -> Deed:
        self._put(pedal=0.6, trailer_knob="out")
        yield 2.0
        return Answer(("done",))

    # --- reading at an event ---

    def _come_below(self, psi: float) -> Deed:
        while self._highest() >= psi - 8.0:
            self._put(pedal=0.6)
            yield 1.0
            self._put(pedal=0.0)
            yield 1.5
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _call(self, word: str, psi: float) -> Deed:
        """Say a word at the moment at which the slower needle passes `psi`."""
        self._put(throttle=self._fast)
        best, waited = self._lowest(), 0.0
        while self._lowest() < psi:
            yield LOOK
            waited += LOOK
            if self._lowest() > best + 0.5:
                best, waited = self._lowest(), 0.0
            if waited > 2 * STILL:
                self._put(throttle=0.0)
                return CAN_NOT
        return Answer((word,), spent=True)

    def _cut_out(self) -> Deed:
        """At the cut-out the dryer purges; without one, the needle just stands."""
        self._purged = False
        yield from self._fill(lambda: self._purged, nudge=False)
        yield 2.0
        seen = self.vehicle.readings()
        self._put(throttle=0.0)
        return Answer(seen=seen)

    def _cut_in(self) -> Deed:
        """Gentle applications at idle, and a look after each whether the needle climbs by itself."""
        self._put(throttle=0.0)
        while self._lowest() > GIVEN_UP:
            self._put(pedal=0.25)
            yield 1.0
            self._put(pedal=0.0)
            yield 2.5
            before, seen = self._lowest(), self.vehicle.readings()
            yield 3.0
            if self._lowest() > before + 0.2:
                return Answer(seen=seen)
        return CAN_NOT

    def _warning(self) -> Deed:
        self._put(throttle=0.0)
        came = yield from self._pump(lambda: self._warned is not None, lambda: self._lowest() < NO_WARNING)
        signals = self.vehicle.signals()
        seen = self._warned if came and self._warned else self.vehicle.readings()
        yield 0.8
        if signals.light and signals.buzzer:
            return Answer(("light and buzzer on", "light on buzzer on", "both light and buzzer on"), seen)
        if not (signals.light or signals.buzzer):
            return Answer(("no light and no buzzer", "no light no buzzer"), seen)
        return Answer(("light on",) if signals.light else ("buzzer on",), seen)

    def _pop_out(self, knob: Literal["parking knob", "trailer knob"]) -> Deed:
        self._put(throttle=0.0)
        if self._is_in(knob):
            yield from self._pump(lambda: not self._is_in(knob), lambda: self._highest() < EMPTY)
        yield 0.8
        if self._is_in(knob):
            return Answer(("did not pop", "it stayed in"))
        return Answer((f"{knob} popped", f"the {knob} popped out"), self.popped.get(knob, self.vehicle.readings()))

    # --- holds ---

    def _read_when_still(self) -> Deed:
        yield 12.0
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    def _read_at_once(self) -> Deed:
        yield 0.5
        return Answer(seen=self.vehicle.readings(), fleeting=True)

    # --- felt ---

    def _tug_parking(self) -> Deed:
        self._put(pedal=0.6)
        yield 0.5
        self._put(parking_knob="out")
        yield 0.5
        self._put(trailer_knob="in")
        yield from self._top_up()
        return (yield from self._tug())

    def _tug_trailer(self) -> Deed:
        self._put(pedal=0.6)
        yield 0.5
        self._put(trailer_knob="out")
        yield 1.0
        self._put(parking_knob="in")
        yield 10.0
        return (yield from self._tug())

    def _tug(self) -> Deed:
        self._put(pedal=0.0)
        yield 2.0
        self._put(gear="low")
        yield TUG
        moved = self.vehicle.signals().moving
        yield from self._halt()
        self._put(parking_knob="out")
        return Answer(("it moved", "it's moving", "it did not hold")) if moved else Answer(("it held", "it's holding"))

    def _hand_valve(self) -> Deed:
        yield from self._roll()
        self._put(hand_valve=1.0)
        waited = 0.0
        while self.vehicle.signals().moving and waited < 8.0:
            yield LOOK
            waited += LOOK
        felt = not self.vehicle.signals().moving
        yield from self._halt()
        self._put(hand_valve=0.0, parking_knob="out")
        return Answer(("yes", "i felt it")) if felt else Answer(("no", "i did not feel it"))

    def _service_brake(self) -> Deed:
        yield from self._roll()
        self._put(gear="neutral", pedal=0.3)
        yield 0.4
        pull = self.vehicle.signals().pull
        yield from self._halt()
        self._put(parking_knob="out")
        return Answer((f"it pulls {pull}", f"pulled to the {pull}")) if pull else Answer(("straight", "no pull"))

    def _roll(self) -> Generator[float, None, None]:
        """To walking pace, with everything released; the knobs have to stay in first."""
        self._put(pedal=0.6)
        yield 0.5
        self._put(trailer_knob="in")
        yield 1.0
        self._put(parking_knob="in")
        yield from self._top_up()
        self._put(pedal=0.0)
        yield 1.5
        self._put(gear="low")
        yield TUG

    def _halt(self) -> Generator[float, None, None]:
        self._put(gear="neutral", pedal=0.7)
        waited = 0.0
        while self.vehicle.signals().moving and waited < 20.0:
            yield 0.2
            waited += 0.2
        yield 1.0

    # --- air ---

    def _top_up(self) -> Generator[float, None, None]:
        """Let the trailer fill and the pressure come back, as far as it does, with the foot on the brake."""
        yield 12.0
        self._put(throttle=self._fast)
        waited = 0.0
        while self._lowest() < FULL_ENOUGH and waited < 120.0:
            yield 0.5
            waited += 0.5
        self._put(throttle=0.0)
        yield 1.0

    def _fill(self, enough: Callable[[], bool], nudge: bool = True) -> Generator[float, None, bool]:
        """Run the engine fast until there is enough; False when the needle stands before that.

        `nudge`: a compressor that rests between cut-in and cut-out is made to start by using some air.
        """
        self._put(pedal=0.0, key="on", engine="on", throttle=self._fast)
        best, waited, nudged = self._lowest(), 0.0, 0
        while not enough():
            yield 0.5
            waited += 0.5
            if self._lowest() > best + 0.5:
                best, waited = self._lowest(), 0.0
            if waited < STILL:
                continue
            if not nudge or nudged == NUDGES or self._lowest() < GIVEN_UP:
                return False
            self._put(pedal=0.6)
            yield 1.0
            self._put(pedal=0.0)
            yield 1.0
            best, waited, nudged = self._lowest(), STILL - 4.0, nudged + 1
        return True

    def _pump(self, until: Callable[[], bool], vain: Callable[[], bool]) -> Generator[float, None, bool]:
        """Press and lift the pedal until something is so, gently where it may be soon; False when it was in vain."""
        while not (until() or vain()):
            travel = 1.0 if self._lowest() > 85.0 else 0.25
            for pedal in (travel, 0.0):
                self._put(pedal=pedal)
                for _ in range(9):
                    if until():
                        break
                    yield LOOK
        self._put(pedal=0.0)
        return until()
