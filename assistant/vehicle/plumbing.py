"""The air system of one vehicle: nine vessels, the valves between them, compressor and governor.

    compressor -> WET -|>- PRIMARY   --(pedal)--> REAR chambers ---> out on release
                      \\-|>- SECONDARY --(pedal)--> FRONT chambers --> out on release
    higher of PRIMARY, SECONDARY --(parking knob)--> SPRINGS ---> out when the knob is out
    higher of PRIMARY, SECONDARY --(trailer knob)--> TRAILER LINE (and springs) -|>- TRAILER RESERVOIR
                                                     TRAILER RESERVOIR --(pedal or hand valve)--> TRAILER CHAMBERS
    and a hole to the outside wherever the condition says so.

Law: vessels are lumps and valves are orifices; every step moves air edge by edge, each with the newest pressures.
Assumptions: no pipe waves, no hysteresis of relay valves, no air for control lines, suspension or dryer; the spring
brakes just follow their supply; several trailers are one with so many times the air.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.vehicle.air import (
    ATMOSPHERE,
    CAUTION,
    DM3_S_BAR,
    IN3,
    PSI,
    REST,
    ROOM,
    SHARP,
    VALVE,
    Chamber,
    Tank,
    WarmTank,
    absolute,
    flow,
    gauge_psi,
    move,
    vent,
    volumetric_efficiency,
)
from assistant.vehicle.condition import Condition, Place
from assistant.vehicle.spec import Chambers, VehicleSpec

BAND = 4.0 * PSI
"""A service valve is fully open this far from its target and proportionally less nearer to it. Assumption."""
PEDAL_SPAN = 120.0 * PSI
"""Output of pedal or hand valve just before the end of its travel; at the end it gives all there is. Assumption."""
SHOES = (5.0, 15.0)
"""psi between which a service chamber takes up its stroke: return spring, then the shoes touch. Assumption."""
HOLD_OFF = (20.0, 60.0)
"""psi between which spring brakes go from fully on to fully off. Assumption within the usual figures of the trade."""
BLOW = 4e-8
"""Sonic conductance of the open safety valve: passes more than the compressor gives. Assumption."""
RESEAT = 5.0 * PSI
"""The safety valve closes this far below where it opens. Assumption."""


@dataclass(slots=True)
class Hands:
    """What the air system feels of the driver: pedal and hand valve 0 to 1, knobs pushed in, engine speed (0 = off)."""

    pedal: float = 0.0
    hand_valve: float = 0.0
    parking_in: bool = False
    trailer_in: bool = False
    rpm: float = 0.0


class Circuit:
    """Service chambers, the tank that feeds them and the valve between."""

    __slots__ = ("apply", "chambers", "exhaust", "tank")

    def __init__(self, tank: Tank, part: Chambers, times: int = 1) -> None:
        self.tank = tank
        self.chambers = _piston(times * part.dead_in3, times * part.swept_in3, SHOES)
        self.apply = times * part.apply * DM3_S_BAR
        self.exhaust = times * part.exhaust * DM3_S_BAR

    def wanted(self, travel: float) -> float:
        """Pressure that pedal or hand valve at `travel` sends out, Pa absolute."""
        full = self.tank.pressure
        return full if travel >= 1.0 else min(full, ATMOSPHERE + travel * PEDAL_SPAN)

    def regulate(self, target: float, seconds: float) -> float:
        """Bring the chambers towards `target`, Pa absolute. Returns the air let out, Pa m3."""
        chambers, tank = self.chambers, self.tank
        error = min(target, tank.pressure) - chambers.pressure
        if error > REST:
            opening = self.apply * min(1.0, error / BAND)
            most = CAUTION * error * chambers.volume
            amount = min(flow(opening, VALVE, tank.pressure, chambers.pressure) * seconds, most)
            tank.lose(amount)
            chambers.gain(amount, tank.temperature)
            return 0.0
        excess = chambers.pressure - target
        if excess < REST:
            return 0.0
        return vent(chambers, self.exhaust * min(1.0, excess / BAND), seconds, floor=target)


class Plumbing:
    """State of the air system. `taken_in` and `let_out` count all air drawn and lost since the start, Pa m3."""

    def __init__(self, spec: VehicleSpec, condition: Condition, start_psi: float = 0.0, thermal: bool = False) -> None:
        start, kind = absolute(start_psi), WarmTank if thermal else Tank
        self.wet = kind(spec.tanks.wet_in3 * IN3, start)
        self.primary = kind(spec.tanks.primary_in3 * IN3, start)
        self.secondary = kind(spec.tanks.secondary_in3 * IN3, start)
        self.rear = Circuit(self.primary, spec.rear)
        self.front = Circuit(self.secondary, spec.front)
        self.springs = _piston(spec.springs.dead_in3, spec.springs.swept_in3)
        self.line = _supply_line(spec)
        self.trailer: Circuit | None = None
        if spec.towed:
            times = spec.towed.trailers
            self.trailer = Circuit(kind(times * spec.towed.reservoir_in3 * IN3, start), spec.towed.service, times)
            self._fill = times * spec.towed.fill * DM3_S_BAR
        self.vessels = self._named()
        self._holes = [(self.vessels[place], size) for place, size in condition.leaks.items()]
        self._tanks = [vessel for vessel in self.vessels.values() if isinstance(vessel, WarmTank)]
        self._compressor = spec.compressor
        self._swept = spec.compressor.swept_in3 * IN3 * spec.compressor.revolutions_per_engine_revolution / 60.0
        self._check, self._cracking = spec.check_valve * DM3_S_BAR, spec.check_valve_psi * PSI
        self._into, self._out = spec.dash_valve_in * DM3_S_BAR, spec.dash_valve_out * DM3_S_BAR
        self._cut_out, self._cut_in = absolute(condition.cut_out_psi), absolute(condition.cut_in_psi)
        self._opens = absolute(spec.safety_valve_psi)
        self._condition = condition
        self.loaded = self.wet.pressure < self._cut_out
        self.blowing = False
        self.taken_in = self.let_out = 0.0

    @property
    def content(self) -> float:
        """All air in the system, Pa m3."""
        return sum(vessel.content for vessel in self.vessels.values())

    def psi(self, place: Place) -> float:
        """Gauge psi in one place. Raises KeyError for a part that this vehicle does not have."""
        return gauge_psi(self.vessels[place].pressure)

    @property
    def higher(self) -> Tank:
        """The service tank that the double check valve lets through to the dash valves."""
        return self.primary if self.primary.pressure >= self.secondary.pressure else self.secondary

    def step(self, hands: Hands, seconds: float) -> None:
        """Let `seconds` (at most 0.1, best 0.02) pass."""
        if self.loaded and hands.rpm > 0.0:
            self._compress(hands.rpm * seconds)
        self._govern()
        if self.blowing or self.wet.pressure > self._opens:
            self._blow(seconds)
        move(self.wet, self.primary, self._check, seconds, self._cracking)
        move(self.wet, self.secondary, self._check, seconds, self._cracking)
        self._brake(hands, seconds)
        self._park(hands, seconds)
        for vessel, size in self._holes:
            self.let_out += vent(vessel, size, seconds, SHARP)
        for tank in self._tanks:
            tank.settle(seconds)

    def _compress(self, turned: float) -> None:
        part = self._compressor
        share = self._condition.compressor * volumetric_efficiency(self.wet.pressure, part.best, part.clearance)
        amount = ATMOSPHERE * self._swept * turned * share
        self.wet.gain(amount, ROOM)
        self.taken_in += amount

    def _govern(self) -> None:
        """Unload at the cut-out, load at the cut-in, and nothing between: a latch on the wet tank."""
        if self.loaded:
            self.loaded = self.wet.pressure < self._cut_out or not self._condition.governor_unloads
        else:
            self.loaded = self.wet.pressure <= self._cut_in and self._condition.governor_loads

    def _blow(self, seconds: float) -> None:
        """The safety valve on the wet tank: opens fully, closes some way lower."""
        self.let_out += vent(self.wet, BLOW, seconds)
        self.blowing = self.wet.pressure > self._opens - RESEAT

    def _brake(self, hands: Hands, seconds: float) -> None:
        for_rear, for_front = self.rear.wanted(hands.pedal), self.front.wanted(hands.pedal)
        let_out = self.rear.regulate(for_rear, seconds) + self.front.regulate(for_front, seconds)
        if self.trailer:
            target = ATMOSPHERE
            if hands.trailer_in or not self._condition.protection_works:
                target = max(for_rear, for_front, self.rear.wanted(hands.hand_valve))
            let_out += self.trailer.regulate(target, seconds)
        self.let_out += let_out

    def _park(self, hands: Hands, seconds: float) -> None:
        higher = self.higher
        if hands.parking_in:
            self._share(higher, self.springs, seconds)
        else:
            self.let_out += vent(self.springs, self._out, seconds)
        if self.line is None:
            return
        if hands.trailer_in or not self._condition.protection_works:
            self._share(higher, self.line, seconds)
        else:
            self.let_out += vent(self.line, self._out, seconds)
        if self.trailer:
            move(self.line, self.trailer.tank, self._fill, seconds)

    def _share(self, tank: Tank, vessel: Tank, seconds: float) -> None:
        """Connect a vessel behind an open dash valve with a tank, whichever way the air wants to go."""
        if tank.pressure >= vessel.pressure:
            move(tank, vessel, self._into, seconds)
        else:
            move(vessel, tank, self._into, seconds)

    def _named(self) -> dict[Place, Tank]:
        vessels: dict[Place, Tank] = {
            "wet": self.wet,
            "primary": self.primary,
            "secondary": self.secondary,
            "rear": self.rear.chambers,
            "front": self.front.chambers,
            "springs": self.springs,
        }
        if self.line:
            vessels["trailer-line"] = self.line
        if self.trailer:
            vessels["trailer-reservoir"] = self.trailer.tank
            vessels["trailer-chambers"] = self.trailer.chambers
        return vessels


def _piston(dead_in3: float, swept_in3: float, moves: tuple[float, float] = HOLD_OFF) -> Chamber:
    return Chamber(dead_in3 * IN3, swept_in3 * IN3, absolute(moves[0]), absolute(moves[1]))


def _supply_line(spec: VehicleSpec) -> Tank | None:
    """The trailer supply line with the trailers' spring brakes on it, as one vessel."""
    if spec.supply_line_in3 is None:
        return None
    if spec.towed is None:
        return Tank(spec.supply_line_in3 * IN3)
    towed = spec.towed
    dead = spec.supply_line_in3 + towed.trailers * (towed.line_in3 + towed.springs.dead_in3)
    return _piston(dead, towed.trailers * towed.springs.swept_in3)
