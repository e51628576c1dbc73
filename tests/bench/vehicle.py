"""How fast and how exact the simulated vehicle is.

    python -m tests.bench.vehicle

Prints, for each shipped vehicle: times real time over a whole check (best of some runs, processor time and wall time),
the worst difference of a needle from a run with a step of 1 ms, and how far the calibrated leaks are from what was
asked. Nothing is recorded from a real vehicle.
"""

from __future__ import annotations

import time

from assistant.vehicle.faults import KINDS, Fault
from assistant.vehicle.spec import VehicleSpec, load, shipped
from assistant.vehicle.truth import truth
from assistant.vehicle.vehicle import STEP, Vehicle

RUNS = 5
Script = list[tuple[str, str | float, float]]

CHECK: Script = [
    ("key", "on", 0.0),
    ("engine", "on", 0.0),
    ("throttle", 0.4, 120.0),  # build-up
    ("parking knob", "in", 20.0),
    ("trailer knob", "in", 180.0),  # cut-out
    ("throttle", 0.0, 5.0),
    *[each for _ in range(4) for each in (("pedal", 0.5, 1.0), ("pedal", 0.0, 2.0))],  # cut-in
    ("throttle", 0.4, 120.0),
    ("throttle", 0.0, 0.0),
    ("engine", "off", 75.0),  # static leakage
    ("pedal", 1.0, 75.0),  # applied leakage
    *[each for _ in range(25) for each in (("pedal", 0.0, 1.0), ("pedal", 1.0, 1.0))],  # warning, pop-out
    ("pedal", 0.0, 2.0),
    ("engine", "on", 0.0),
    ("throttle", 0.6, 150.0),  # rebuild
    ("throttle", 0.0, 0.0),
    ("chocks", "out", 0.0),
    ("gear", "low", 3.0),  # parking brake tug
    ("parking knob", "in", 5.0),  # service brake
    ("pedal", 0.3, 5.0),
]
"""A whole check in the order of the book, at a driver's pace."""


def run(vehicle: Vehicle, every_s: float | None = None) -> list[float]:
    """The check; needles every so many seconds."""
    seen: list[float] = []
    for control, value, seconds in CHECK:
        if control in vehicle.controls:
            vehicle.set(control, value)
        if every_s is None:
            vehicle.step(seconds)
            continue
        for _ in range(round(seconds / every_s)):
            vehicle.step(every_s)
            seen += vehicle.needles().values()
    return seen


def speeds(spec: VehicleSpec, thermal: bool) -> tuple[float, float]:
    """Times real time by processor time and by the wall clock: the best of the runs, the machine being shared."""
    best_cpu = best_wall = 0.0
    for _ in range(RUNS):
        vehicle = Vehicle(spec, thermal=thermal)
        cpu, wall = time.process_time(), time.perf_counter()
        run(vehicle)
        best_cpu = max(best_cpu, vehicle.now_s / (time.process_time() - cpu))
        best_wall = max(best_wall, vehicle.now_s / (time.perf_counter() - wall))
    return best_cpu, best_wall


def step_error(spec: VehicleSpec) -> tuple[float, float]:
    """Worst and 99th percentile difference of a needle from the run with 1 ms, psi."""
    coarse, fine = (run(Vehicle(spec, step_s=step), every_s=0.5) for step in (STEP, 0.001))
    errors = sorted(abs(one - other) for one, other in zip(coarse, fine, strict=True))
    return errors[-1], errors[int(0.99 * len(errors))]


def leak_error(spec: VehicleSpec) -> tuple[int, float]:
    """How many leaks were calibrated, and the worst relative error of the loss that the minute shows."""
    count, worst = 0, 0.0
    for name, kind in KINDS.items():
        if not name.startswith("leak-") or name == "leak-wet" or not kind.fits(spec):
            continue
        for rate in (1.0, 3.0, 6.0):
            seen = truth(
                Vehicle(spec, [Fault(name, rate)]),
                "applied-leakage" if name.endswith("chambers") else "static-leakage",
            )
            lost = max(a.value - b.value for a, b in zip(seen.readings["first"], seen.readings["last"], strict=True))
            count, worst = count + 1, max(worst, abs(lost / rate - 1.0))
    return count, worst


def main() -> None:
    seconds = sum(each[2] for each in CHECK)
    print(f"one check: {seconds:.0f} simulated seconds, {seconds / STEP:.0f} steps of {STEP * 1000:.0f} ms")
    print("vehicle       times real time: cpu   wall   thermal cpu   needle error psi: worst   99 %   leaks   worst")
    for which in shipped():
        spec = load(which)
        (cpu, wall), (warm, _) = speeds(spec, thermal=False), speeds(spec, thermal=True)
        worst, most = step_error(spec)
        leaks, off = leak_error(spec)
        print(
            f"{which:12} {cpu:21.0f} {wall:6.0f} {warm:13.0f} {worst:25.3f} {most:6.3f} {leaks:7} {100 * off:5.1f} %",
            flush=True,
        )


if __name__ == "__main__":
    main()
