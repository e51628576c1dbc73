"""How a driver puts readings into words: the ways people say a number, one needle or two, and slips that are mended.

Law: every wording here is in the language of grammars/. The meaning never hangs on chance: only the wording does.
"""

from __future__ import annotations

from random import Random

from assistant.core.events import Needle
from assistant.core.numbers import spoken
from assistant.vehicle.handling import Seen

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
NEIGHBOURS = (-20.0, -10.0, -4.0, -2.0, 2.0, 4.0, 10.0, 20.0)
"""By how much a slip of the tongue is off, psi."""


def grouped(value: float) -> str:
    """As drivers speak: 122 is "one twenty two", 104 "one oh four"."""
    hundreds, rest = divmod(round(value), 100)
    if not hundreds or not rest:
        return spoken(round(value))
    return f"{_DIGITS[hundreds]} {'oh ' if rest < 10 else ''}{spoken(rest)}"


def by_digits(value: float) -> str:
    return " ".join(_DIGITS[int(digit)] for digit in f"{round(value)}")


class Tongue:
    """Puts readings into words, as chance will have it."""

    def __init__(self, chance: Random) -> None:
        self._chance = chance

    def number(self, value: float, plainly: bool) -> str:
        return spoken(round(value)) if plainly or self._chance.random() < 0.2 else grouped(value)

    def readings(self, seen: Seen, *, digits: bool = False, plainly: bool = False) -> str:
        """Both needles by name; where they agree, now and then in one."""
        number = {needle: by_digits(psi) if digits else self.number(psi, plainly) for needle, psi in seen.items()}
        if len(set(seen.values())) == 1 and len(seen) == 2 and not plainly and self._chance.random() < 0.3:
            return f"both at {number['primary']}"
        return " ".join(f"{needle} {words}" for needle, words in number.items())

    def slip(self, seen: Seen) -> Seen:
        """The readings with one of them said wrong."""
        needle: Needle = self._chance.choice(sorted(seen))
        wrong = seen[needle] + self._chance.choice(NEIGHBOURS)
        return {**seen, needle: min(max(wrong, 0.0), 150.0)}

    def with_moment(self, readings: str, moment: str) -> str:
        """What happened and the readings in one breath."""
        return f"{moment} {readings}" if moment.endswith(("popped", "popped out")) else f"{readings} {moment}"
