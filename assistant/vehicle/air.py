"""Compressed air in a few laws: vessels, orifices, the compressor, and moving air between two vessels.

Law: the state of a vessel is its content S = P V at reference temperature, which is its mass times R T, never its
pressure; so air moved out of one vessel and into another is conserved to rounding, whatever the volumes do meanwhile.
No transfer of one step crosses the point where it would stop by itself; that is what makes a fixed step safe.
Here all pressures are absolute, in Pa; volumes in m3; contents in Pa m3; conductances in m3/(s Pa).
"""

from __future__ import annotations

from math import pow, sqrt

PSI = 6894.757293168
"""Pa in one psi (exact definition of pound, inch and standard gravity)."""
ATMOSPHERE = 101_325.0
REFERENCE = 100_000.0
"""ISO 6358: reference pressure of the sonic conductance, Pa."""
ROOM = 293.15
"""ISO 6358: reference temperature, K."""
IN3 = 1.6387064e-5
"""m3 in one cubic inch (exact)."""
DM3_S_BAR = 1e-8
"""m3/(s Pa) in one dm3/(s bar), the unit in which valve data sheets print the sonic conductance."""
SHARP = 0.528
"""Critical pressure ratio of a sharp hole: (2/(k+1))^(k/(k-1)) for k = 1.4."""
VALVE = 0.35
"""Critical pressure ratio of a valve with its fittings. Assumption: data sheets show 0.2 to 0.5."""
ADIABATIC = 1.4
"""Ratio of the specific heats of air."""
CAUTION = 0.5
"""Largest share of the way to rest that one transfer may go in one step."""
REST = 1.0
"""Pa: two pressures nearer than this are level. 0.00015 psi, and it halves the work of a quiet system."""


def gauge_psi(pressure: float) -> float:
    """Absolute Pa as gauge psi."""
    return (pressure - ATMOSPHERE) / PSI


def absolute(psi: float) -> float:
    """Gauge psi as absolute Pa."""
    return psi * PSI + ATMOSPHERE


def flow(conductance: float, critical: float, up: float, down: float) -> float:
    """Flow through an orifice after ISO 6358, Pa m3/s at reference temperature; zero if `down` is not below `up`.

    Choked below the critical ratio, an ellipse above it. Divide by R T0 for the mass flow in kg/s.
    """
    if down >= up:
        return 0.0
    choked = conductance * REFERENCE * up
    ratio = down / up
    if ratio <= critical:
        return choked
    return choked * sqrt(1.0 - ((ratio - critical) / (1.0 - critical)) ** 2)


def volumetric_efficiency(pressure: float, best: float, clearance: float) -> float:
    """Share of the swept volume that a reciprocating compressor draws in, against `pressure`.

    The textbook clearance formula with a polytropic exponent of 1.3.
    """
    return max(0.0, best * (1.0 + clearance - clearance * pow(pressure / ATMOSPHERE, 1.0 / 1.3)))


class Tank:
    """A rigid vessel at room temperature."""

    __slots__ = ("content", "pressure", "volume")
    temperature = ROOM

    def __init__(self, volume: float, pressure: float = ATMOSPHERE) -> None:
        self.volume = volume
        self.pressure = pressure
        self.content = pressure * volume

    def gain(self, amount: float, temperature: float) -> None:  # noqa: ARG002 - the warm tank needs it
        self.content += amount
        self.pressure = self.content / self.volume

    def lose(self, amount: float) -> None:
        self.content -= amount
        self.pressure = self.content / self.volume

    def settle(self, seconds: float) -> None:
        """Exchange heat with the surroundings: nothing to do at room temperature."""


class WarmTank(Tank):
    """A rigid vessel whose air warms when filled, cools when emptied and returns to room temperature.

    The energy balance of an open system: m cv dT = sum m_in (cp T_in - cv T) - sum m_out R T + m cv (T_room - T) / tau.
    Assumptions: tau 30 s (15 to 60 s estimated from the wall area); the flow's own root of T is left out (2 %).
    """

    __slots__ = ("temperature",)
    TAU = 30.0

    def __init__(self, volume: float, pressure: float = ATMOSPHERE) -> None:
        super().__init__(volume, pressure)
        self.temperature = ROOM

    def gain(self, amount: float, temperature: float) -> None:
        self.content += amount
        self._warm(amount * (ADIABATIC * temperature - self.temperature) / self.content)

    def lose(self, amount: float) -> None:
        warmth = -(ADIABATIC - 1.0) * self.temperature * amount / self.content
        self.content -= amount
        self._warm(warmth)

    def settle(self, seconds: float) -> None:
        self._warm((ROOM - self.temperature) * seconds / self.TAU)

    def _warm(self, kelvin: float) -> None:
        self.temperature += kelvin
        self.pressure = self.content * self.temperature / (ROOM * self.volume)


class Chamber(Tank):
    """A vessel with a diaphragm or piston, at first at atmospheric pressure: `dead` volume up to pressure `low`,
    `dead + swept` from `high` on, linear between. Always at room temperature. `volume` is what it has at the moment."""

    __slots__ = ("_at_high", "_at_low", "_dead", "_full", "_offset", "_rise")

    def __init__(self, dead: float, swept: float, low: float, high: float) -> None:
        super().__init__(dead)
        self._dead, self._full = dead, dead + swept
        self._at_low, self._at_high = dead * low, (dead + swept) * high
        self._rise = swept / (high - low)
        self._offset = dead - self._rise * low

    def gain(self, amount: float, temperature: float) -> None:  # noqa: ARG002 - the same door for every vessel
        self._place(self.content + amount)

    def lose(self, amount: float) -> None:
        self._place(self.content - amount)

    def _place(self, content: float) -> None:
        """Set the content; the pressure is the root of P V(P) = S in closed form."""
        self.content = content
        if content <= self._at_low:
            self.volume = self._dead
        elif content >= self._at_high:
            self.volume = self._full
        else:
            c = self._offset
            root = (sqrt(c * c + 4.0 * self._rise * content) - c) / (2.0 * self._rise)
            self.volume = content / root
        self.pressure = content / self.volume


def move(source: Tank, target: Tank, conductance: float, seconds: float, drop: float = 0.0) -> None:
    """Let air flow one way from `source` to `target` through a valve that needs `drop` Pa to open.

    Moves at most `CAUTION` of what would bring both level. No vessel gets smaller as its pressure rises, so its present
    volume never makes that more than it is: P2 V2 - P1 V1 >= (P2 - P1) V1 when filling, >= (P2 - P1) V2 when emptying.
    """
    up, down = source.pressure - drop, target.pressure
    if up - down < REST:
        return
    level = CAUTION * (up - down) * source.volume * target.volume / (source.volume + target.volume)
    amount = min(flow(conductance, VALVE, up, down) * seconds, level)
    source.lose(amount)
    target.gain(amount, source.temperature)


def vent(source: Tank, conductance: float, seconds: float, critical: float = VALVE, floor: float = ATMOSPHERE) -> float:
    """Let air out to the atmosphere, at most `CAUTION` of the way down to `floor`. Returns the amount, Pa m3."""
    excess = source.pressure - floor
    if excess < REST:
        return 0.0
    amount = min(flow(conductance, critical, source.pressure, ATMOSPHERE) * seconds, CAUTION * excess * source.volume)
    source.lose(amount)
    return amount
