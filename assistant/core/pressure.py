"""A pressure as a source prints it: psi, kPa or both.

Law: a printed pair is kept as it is (55 psi stands beside 380 kPa, though 55 psi are 379.2 kPa), and a reading is
judged against the figure of its own unit. Only a figure that the source does not print is converted, exactly.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from pydantic import Field

from assistant.core.events import Reading, Record, Unit
from assistant.core.interval import exact

# One pound-force (0.45359237 kg x 9.80665 m/s2, both exact) on a square inch (0.0254 m): NIST SP 811, appendix B.
KPA_PER_PSI = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000

_STEP = {"psi": Fraction(1), "kPa": Fraction(5)}  # what a driver can be asked to read


def convert(value: Fraction, unit: Unit, to: Unit) -> Fraction:
    """`value` of `unit` in the unit `to`, exactly."""
    if unit == to:
        return value
    return value * KPA_PER_PSI if to == "kPa" else value / KPA_PER_PSI


def in_psi(reading: Reading) -> Fraction:
    """The value in psi, for ordering readings of any unit."""
    return convert(exact(reading.value), reading.unit, "psi")


def number(value: float) -> str:
    """Digits without a trailing zero."""
    return f"{value:.10g}"


class Pressure(Record):
    """At least one of the two units; both as printed when the source prints both."""

    psi: float | None = Field(default=None, ge=0)
    kpa: float | None = Field(default=None, ge=0, alias="kPa")

    def printed(self, unit: Unit) -> float | None:
        return self.psi if unit == "psi" else self.kpa

    def value(self, unit: Unit) -> Fraction:
        """What a reading in `unit` is compared with; 0 for a pressure without any figure."""
        printed = self.printed(unit)
        if printed is not None:
            return exact(printed)
        other: Unit = "kPa" if unit == "psi" else "psi"
        return convert(exact(self.printed(other) or 0), other, unit)

    def shown(self, unit: Unit) -> Reading:
        """For a sentence: the printed figure, or the converted one to a tenth."""
        printed = self.printed(unit)
        return Reading(value=float(round(self.value(unit), 1)) if printed is None else round(printed, 1), unit=unit)

    def mark(self, unit: Unit) -> Reading:
        """For a question: a figure that stands on a gauge, the printed one or the nearest 1 psi or 5 kPa."""
        if self.printed(unit) is not None:
            return self.shown(unit)
        return Reading(value=float(floor(self.value(unit) / _STEP[unit] + Fraction(1, 2)) * _STEP[unit]), unit=unit)

    def mark_above(self, unit: Unit) -> Reading:
        """The same, rounded up: for what has to be reached."""
        if self.printed(unit) is not None:
            return self.shown(unit)
        return Reading(value=float(ceil(self.value(unit) / _STEP[unit]) * _STEP[unit]), unit=unit)

    def text(self) -> str:
        """As printed: "55 psi (380 kPa)"."""
        return pair_text((self,), "")


def pair_text(pressures: tuple[Pressure, ...], joint: str) -> str:
    """Pressures that are printed together: "20 to 45 psi (138 to 310 kPa)"."""
    psi = [number(pressure.psi) for pressure in pressures if pressure.psi is not None]
    kpa = [number(pressure.kpa) for pressure in pressures if pressure.kpa is not None]
    in_psi = f"{joint.join(psi)} psi" if len(psi) == len(pressures) else ""
    in_kpa = f"{joint.join(kpa)} kPa" if len(kpa) == len(pressures) else ""
    if in_psi and in_kpa:
        return f"{in_psi} ({in_kpa})"
    return in_psi or in_kpa or joint.join(f"{pressure.text()}" for pressure in pressures if len(pressures) > 1)
