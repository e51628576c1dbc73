"""What the simulated vehicle sounds like from the driver's seat, block after block as time passes.

Law: what is heard follows from the vehicle's signals and controls and from nothing else; every sound is a formula of
`noise`, made once from a seed. A block is mixed by table, so that an audio thread can ask for it.
"""

from __future__ import annotations

import numpy as np

from assistant.vehicle.cab import Happening
from assistant.vehicle.noise import RATE, Curve, Noise, Sound, buzzer, diesel, fast_diesel, hiss, rms_level
from assistant.vehicle.vehicle import Vehicle

_LOOP_S = 6.0
_SEAM_S = 0.5
_CHANGE_S = 0.12
"""A sound comes on and goes off within about this: a step would click."""
_LEVELS_DB = {"idle": -38.0, "fast": -34.0, "buzzer": -33.0, "roar": -26.0}
"""dB below full scale. The assistant speaks at about -20: it has to be understood. Assumption."""
_KNOCK, _DRYER, _PEDAL = 0.35, 0.2, 0.06
"""Peaks of a knob that jumps out, of the dryer and of the air that a released pedal lets out, of full scale."""
Levels = dict[str, float]


class CabSound:
    """16 kHz mono. `look` is told of the vehicle as time passes, `next` gives the sound that goes on meanwhile; two
    threads may call them."""

    def __init__(self, seed: int = 1) -> None:
        chance = np.random.default_rng(seed)
        noises = {"idle": diesel, "fast": fast_diesel, "buzzer": buzzer, "roar": hiss}
        self._loops = {name: _loop(noise, chance, _LEVELS_DB[name]) for name, noise in noises.items()}
        self._once: dict[Happening, Sound] = {
            "parking knob popped": _knock(chance),
            "trailer knob popped": _knock(chance),
            "dryer purged": _blow_off(chance, 1.5, _DRYER),
        }
        self._let_out = _blow_off(chance, 0.5, _PEDAL)
        self._wanted: Levels = dict.fromkeys(self._loops, 0.0)
        self._had = dict(self._wanted)
        self._at = 0
        self._begun: list[Sound] = []
        self._playing: list[Sound] = []
        self._pedal = 0.0

    def look(self, vehicle: Vehicle, heard: tuple[Happening, ...]) -> None:
        """The vehicle now, and what could be heard since the last time."""
        signals, pedal = vehicle.signals(), vehicle.cab.hands.pedal
        fast = vehicle.cab.throttle_for(signals.rpm) if signals.engine else 0.0
        if pedal < self._pedal:
            self._begun.append(self._let_out)
        self._pedal = pedal
        self._begun += [self._once[each] for each in heard if each in self._once]
        self._wanted = {
            "idle": (1.0 - fast) if signals.engine else 0.0,
            "fast": fast,
            "buzzer": float(signals.buzzer),
            "roar": float(signals.blowing),
        }

    def next(self, count: int) -> Sound:
        """The next `count` samples."""
        block = np.zeros(count, np.float32)
        wanted, share = self._wanted, min(1.0, count / (_CHANGE_S * RATE))
        for name, loop in self._loops.items():
            before = self._had[name]
            after = before + (wanted[name] - before) * share
            self._had[name] = after
            if before > 1e-3 or after > 1e-3:
                places = np.arange(self._at, self._at + count) % len(loop)
                block += loop[places] * np.linspace(before, after, count, dtype=np.float32)
        self._at += count
        self._add_what_is_heard_once(block)
        return np.clip(block, -1.0, 1.0)

    def _add_what_is_heard_once(self, block: Sound) -> None:
        while self._begun:
            self._playing.append(self._begun.pop(0))
        for sound in self._playing:
            part = sound[: len(block)]
            block[: len(part)] += part
        self._playing = [sound[len(block) :] for sound in self._playing if len(sound) > len(block)]


def _loop(noise: Noise, chance: np.random.Generator, level_db: float) -> Sound:
    """A noise whose end goes over into its beginning."""
    seam = round(_SEAM_S * RATE)
    made = noise(round(_LOOP_S * RATE) + seam, chance)
    rise = np.sqrt(np.linspace(0.0, 1.0, seam, dtype=np.float32))
    made[:seam] = made[:seam] * rise + made[-seam:] * rise[::-1]
    made = made[:-seam]
    return np.asarray(made * 10 ** ((level_db - rms_level(made)) / 20), np.float32)


def _knock(chance: np.random.Generator) -> Sound:
    """A knob that jumps out against its stop: a struck sound and a breath of air."""
    time = np.arange(RATE // 2) / RATE
    struck = np.exp(-time * 60) * np.sin(2 * np.pi * chance.uniform(180, 240) * time)
    struck += 0.5 * np.exp(-time * 120) * chance.normal(0, 1, len(time))
    air = 0.15 * np.exp(-time * 9) * hiss(len(time), chance)
    return _at_peak(struck + air, _KNOCK)


def _blow_off(chance: np.random.Generator, seconds: float, peak: float) -> Sound:
    """A burst of air that dies away."""
    time = np.arange(round(seconds * RATE)) / RATE
    return _at_peak(np.minimum(1.0, time * 80) * np.exp(-time * 6 / seconds) * hiss(len(time), chance), peak)


def _at_peak(sound: Curve, peak: float) -> Sound:
    return np.asarray(sound * peak / np.abs(sound).max(), np.float32)
