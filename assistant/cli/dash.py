"""The dash in text: two needles over their scale, the warning devices, the knobs, and what a cab lets hear.

Law: on a terminal the dash stays in its place at the top and the check scrolls below it; elsewhere it is a line that is
printed when a needle has moved to another mark. Words carry the meaning; nothing hangs on colour.
"""

from __future__ import annotations

import sys

from rich.console import Console

from assistant.vehicle.cab import Happening
from assistant.vehicle.vehicle import Vehicle

END_PSI = 150
CELL_PSI = 3
ROWS = 4
QUIET_S = 5.0
"""Seconds between two printed lines at least, where there is no terminal."""
_HEARD: dict[Happening, str] = {
    "parking knob popped": "Clack: the parking knob has jumped out.",
    "trailer knob popped": "Clack: the trailer knob has jumped out.",
    "dryer purged": "Pshhh: the air dryer blows off.",
    "safety valve opened": "A roar of air: the safety valve is open.",
}


def scale(psi: float) -> str:
    """A needle over its scale, 0 to 150 psi, with a stroke at every 50."""
    cells = ["|" if mark % 50 == 0 else "." for mark in range(0, END_PSI + CELL_PSI, CELL_PSI)]
    cells[min(len(cells) - 1, max(0, round(psi / CELL_PSI)))] = "#"
    return "".join(cells)


class Dash:
    """Shows one vehicle on the console as time passes."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._fixed = console.is_terminal and not console.is_dumb_terminal
        self._shown = ""
        self._shown_s = -QUIET_S
        self._alarm = False

    def open(self) -> None:
        """Take the top rows of the terminal."""
        if self._fixed:
            sys.stdout.write(f"\x1b[2J\x1b[{ROWS + 1};{self._console.height}r\x1b[{ROWS + 1};1H")
            sys.stdout.flush()

    def close(self) -> None:
        """Give the terminal back as it was."""
        if self._fixed:
            sys.stdout.write(f"\x1b[r\x1b[{self._console.height};1H\n")
            sys.stdout.flush()

    def look(self, vehicle: Vehicle, heard: tuple[Happening, ...]) -> None:
        """Show what has changed."""
        for happening in heard:
            self._console.print(f"      ({_HEARD[happening]})", markup=False)
        buzzing = vehicle.signals().buzzer
        if buzzing != self._alarm:
            self._alarm = buzzing
            self._console.print(f"      ({'Beeeep: the buzzer sounds.' if buzzing else 'The buzzer is silent.'})")
        rows = _rows(vehicle)
        if "".join(rows) == self._shown:
            return
        if self._fixed:
            drawn = "".join(f"\x1b[{number};1H\x1b[2K{row}" for number, row in enumerate(rows, 1))
            sys.stdout.write(f"\x1b7{drawn}\x1b8")
            sys.stdout.flush()
        elif vehicle.now_s - self._shown_s < QUIET_S:
            return
        else:
            marks = ", ".join(f"{needle} {psi:g}" for needle, psi in vehicle.readings().items())
            self._console.print(f"      [{marks} psi; {rows[2].strip()}]", markup=False, soft_wrap=True)
        self._shown, self._shown_s = "".join(rows), vehicle.now_s


def _rows(vehicle: Vehicle) -> list[str]:
    signals, seen = vehicle.signals(), vehicle.readings()
    needles = [f"{needle:10}{scale(psi)} {psi:5.0f} psi" for needle, psi in seen.items()]
    trailer = f", trailer knob {signals.trailer_knob}" if signals.trailer_knob else ""
    moving = f", {abs(signals.speed_mph):.0f} mph" if signals.moving else ""
    engine = f"engine {round(signals.rpm, -1):.0f} rpm" if signals.engine else "engine off"
    light = "  LOW AIR" if signals.light else ""
    return [*needles, f"{engine}, parking knob {signals.parking_knob}{trailer}{moving}{light}", ""]
