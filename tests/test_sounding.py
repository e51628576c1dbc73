"""What the simulated cab lets hear: only what the vehicle does, and nothing by leaps."""

from __future__ import annotations

import numpy as np

from assistant.vehicle.noise import RATE, rms_level
from assistant.vehicle.sounding import CabSound
from assistant.vehicle.vehicle import Vehicle

TICK_S = 0.1


def heard(vehicle: Vehicle, seconds: float, sound: CabSound | None = None):
    """What is heard while time passes, in blocks of a tick."""
    made = sound or CabSound()
    blocks = []
    for _ in range(round(seconds / TICK_S)):
        made.look(vehicle, vehicle.step(TICK_S))
        blocks.append(made.next(round(TICK_S * RATE)))
    return np.concatenate(blocks)


def running(start_psi: float, *faults: str, **controls) -> Vehicle:
    vehicle = Vehicle.from_toml("truck", faults, start_psi=start_psi)
    for control, value in ({"key": "on", "engine": "on"} | controls).items():
        vehicle.set(control.replace("_", " "), value)
    return vehicle


def strongest_hz(sound) -> float:
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    return float(np.fft.rfftfreq(len(sound), 1 / RATE)[spectrum.argmax()])


def test_a_vehicle_that_stands_still_is_silent() -> None:
    assert not heard(Vehicle.from_toml("truck", start_psi=110.0), 1.0).any()


def test_an_engine_is_heard_and_louder_when_it_is_fast() -> None:
    idle, fast = (rms_level(heard(running(115.0, throttle=throttle), 3.0)[RATE:]) for throttle in (0.0, 0.6))
    assert -45.0 < idle < fast < -25.0


def test_the_buzzer_is_heard_as_a_tone_below_its_pressure_and_not_when_it_is_dead() -> None:
    alone = {"engine": "off"}
    assert 400 <= strongest_hz(heard(running(40.0, **alone), 2.0)[RATE:]) <= 3000
    assert not heard(running(40.0, "warning-buzzer-dead", **alone), 2.0).any()
    assert not heard(running(110.0, **alone), 2.0).any()


def test_a_knob_that_jumps_out_is_the_loudest_thing() -> None:
    sound = CabSound()
    sound.look(Vehicle.from_toml("truck", start_psi=110.0), ("parking knob popped",))
    knock = np.abs(sound.next(RATE // 2)).max()
    assert 0.3 < knock < 0.6


def test_a_released_pedal_lets_air_out_for_half_a_second() -> None:
    vehicle = Vehicle.from_toml("truck", start_psi=110.0)
    sound = CabSound()
    vehicle.set("pedal", 1.0)
    assert not heard(vehicle, 0.5, sound).any()
    vehicle.set("pedal", 0.0)
    breath = heard(vehicle, 1.0, sound)
    assert np.abs(breath[: RATE // 10]).max() > 0.02
    assert not breath[6 * RATE // 10 :].any()


def test_a_sound_goes_on_and_off_without_a_click() -> None:
    """Where the engine stops, no two samples lie further apart than while it runs."""
    vehicle, sound = running(115.0), CabSound()
    runs = heard(vehicle, 2.0, sound)
    vehicle.set("engine", "off")
    stops = heard(vehicle, 1.0, sound)
    assert np.abs(np.diff(np.concatenate([runs[-1:], stops]))).max() <= np.abs(np.diff(runs[RATE:])).max()
    assert np.abs(stops[-RATE // 10 :]).max() < 1e-3
