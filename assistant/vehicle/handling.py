"""A driver's hands and eyes: look, set, fill, pump, roll and stop, as whoever moves the time lets it pass.

Law: only the controls, the gauge and the signals are used, never the condition behind them; time is asked for, not
taken: what lasts is a generator that yields seconds.
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
Knob = Literal["parking knob", "trailer knob"]

LOOK = 0.1
"""Seconds between two looks at the needles."""
STILL = 12.0
"""Seconds without a rise after which a driver believes that the needle stands."""
NUDGES = 12
"""Applications by which a compressor that rests is made to start again."""
GIVEN_UP = 75.0
"""psi at which a driver no longer waits for the compressor to cut in; far below any governor in order."""
TUG = 3.0
"""Seconds of a gentle pull, and of getting to walking pace."""
FULL_ENOUGH = 95.0
"""psi that a driver likes to have before rolling off."""


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


class Handling:
    """One driver's hands and eyes in one vehicle. `popped`: where the needles stood when a knob jumped out; `warned`:
    where they stood when light or buzzer came on, None while both are off; `purged`: the dryer was heard."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.popped: dict[Knob, Seen] = {}
        self.warned: Seen | None = None
        self.purged = False
        self.fast = vehicle.cab.throttle_for(vehicle.spec.engine.operating_rpm)

    def notice(self, heard: tuple[Happening, ...]) -> None:
        """Everything that a driver hears and sees in passing; to be called whenever time has passed."""
        self.purged = self.purged or "dryer purged" in heard
        if "parking knob popped" in heard:
            self.popped["parking knob"] = self.vehicle.readings()
        if "trailer knob popped" in heard:
            self.popped["trailer knob"] = self.vehicle.readings()
        signals = self.vehicle.signals()
        if not (signals.light or signals.buzzer):
            self.warned = None
        elif self.warned is None:
            self.warned = self.vehicle.readings()

    def lowest(self) -> float:
        return min(self.vehicle.needles().values())

    def highest(self) -> float:
        return max(self.vehicle.needles().values())

    def put(self, **controls: str | float) -> None:
        for name, value in controls.items():
            control = name.replace("_", " ")
            if control in self.vehicle.controls:
                self.vehicle.set(control, value)

    def is_in(self, knob: Knob) -> bool:
        signals = self.vehicle.signals()
        return (signals.parking_knob if knob == "parking knob" else signals.trailer_knob) == "in"

    def top_up(self) -> Generator[float, None, None]:
        """Let the trailer fill and the pressure come back, as far as it does, with the foot on the brake."""
        yield 12.0
        self.put(throttle=self.fast)
        waited = 0.0
        while self.lowest() < FULL_ENOUGH and waited < 120.0:
            yield 0.5
            waited += 0.5
        self.put(throttle=0.0)
        yield 1.0

    def fill(self, enough: Callable[[], bool], nudge: bool = True) -> Generator[float, None, bool]:
        """Run the engine fast until there is enough; False when the needle stands before that.

        `nudge`: a compressor that rests between cut-in and cut-out is made to start by using some air.
        """
        self.put(pedal=0.0, key="on", engine="on", throttle=self.fast)
        best, waited, nudged = self.lowest(), 0.0, 0
        while not enough():
            yield 0.5
            waited += 0.5
            if self.lowest() > best + 0.5:
                best, waited = self.lowest(), 0.0
            if waited < STILL:
                continue
            if not nudge or nudged == NUDGES or self.lowest() < GIVEN_UP:
                return False
            self.put(pedal=0.6)
            yield 1.0
            self.put(pedal=0.0)
            yield 1.0
            best, waited, nudged = self.lowest(), STILL - 4.0, nudged + 1
        return True

    def pump(self, until: Callable[[], bool], vain: Callable[[], bool]) -> Generator[float, None, bool]:
        """Press and lift the pedal until something is so, gently where it may be soon; False when it was in vain."""
        while not (until() or vain()):
            travel = 1.0 if self.lowest() > 85.0 else 0.25
            for pedal in (travel, 0.0):
                self.put(pedal=pedal)
                for _ in range(9):
                    if until():
                        break
                    yield LOOK
        self.put(pedal=0.0)
        return until()

    def roll(self) -> Generator[float, None, None]:
        """To walking pace, with everything released; the knobs have to stay in first."""
        self.put(pedal=0.6)
        yield 0.5
        self.put(trailer_knob="in")
        yield 1.0
        self.put(parking_knob="in")
        yield from self.top_up()
        self.put(pedal=0.0)
        yield 1.5
        self.put(gear="low")
        yield TUG

    def halt(self) -> Generator[float, None, None]:
        self.put(gear="neutral", pedal=0.7)
        waited = 0.0
        while self.vehicle.signals().moving and waited < 20.0:
            yield 0.2
            waited += 0.2
        yield 1.0
