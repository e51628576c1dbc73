"""What a driver does to feel the brakes: tug against them, roll and stop.

Law: the vehicle stands again, brakes set, when the answer is given; nothing is felt that the signals do not show.
"""

from __future__ import annotations

from assistant.vehicle.handling import LOOK, TUG, Answer, Deed, Handling


class Rolling(Handling):
    """The tests that move the vehicle."""

    def tug_parking(self) -> Deed:
        self.put(pedal=0.6)
        yield 0.5
        self.put(parking_knob="out")
        yield 0.5
        self.put(trailer_knob="in")
        yield from self.top_up()
        return (yield from self._tug())

    def tug_trailer(self) -> Deed:
        self.put(pedal=0.6)
        yield 0.5
        self.put(trailer_knob="out")
        yield 1.0
        self.put(parking_knob="in")
        yield 10.0
        return (yield from self._tug())

    def _tug(self) -> Deed:
        self.put(pedal=0.0)
        yield 2.0
        self.put(gear="low")
        yield TUG
        moved = self.vehicle.signals().moving
        yield from self.halt()
        self.put(parking_knob="out")
        return Answer(("it moved", "it's moving", "it did not hold")) if moved else Answer(("it held", "it's holding"))

    def hand_valve(self) -> Deed:
        yield from self.roll()
        self.put(hand_valve=1.0)
        waited = 0.0
        while self.vehicle.signals().moving and waited < 8.0:
            yield LOOK
            waited += LOOK
        felt = not self.vehicle.signals().moving
        yield from self.halt()
        self.put(hand_valve=0.0, parking_knob="out")
        return Answer(("yes", "i felt it")) if felt else Answer(("no", "i did not feel it"))

    def service_brake(self) -> Deed:
        yield from self.roll()
        self.put(gear="neutral", pedal=0.3)
        yield LOOK
        pull = self.vehicle.signals().pull
        yield from self.halt()
        self.put(parking_knob="out")
        return Answer((f"it pulls {pull}", f"pulled to the {pull}")) if pull else Answer(("straight", "no pull"))
