"""Many rehearsals of the simulated vehicle by simulated drivers, held to the truth.

    python -m tests.bench.rehearsal --typed 1000
    python -m tests.bench.rehearsal --spoken 50 --noise diesel:10

Every run has a hidden surprise, a vehicle class and habits of its seed (slips, corrections, go-backs, pauses,
interruptions). Prints how many verdicts equal the truth, are open or wrong, how many readings the logs hold otherwise
than the driver meant, whether each log verifies and recomputes, and the speed. Each wrong one is listed with its seed.
"""

from __future__ import annotations

import argparse
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from assistant.cab.rehearsal import Ears, TypedEars
from assistant.cab.spoken import SpokenEars, noise_of
from assistant.cli import build
from assistant.cli.automatic import Rehearsal, Run
from assistant.ears import model
from assistant.log import verify
from assistant.mouth.voice import Voice
from assistant.review.replay import fold
from assistant.vehicle.habits import Habits
from assistant.vehicle.scenario import Scenario
from assistant.vehicle.surprise import surprise

CLASSES = ("truck", "bus", "combination", "tractor", "doubles", "triples")


class Tally:
    """What all runs have shown so far."""

    def __init__(self) -> None:
        self.count: Counter[str] = Counter()
        self.simulated_s = self.wall_s = 0.0

    def add(self, run: Run) -> None:
        self.simulated_s += run.simulated_s
        self.wall_s += run.wall_s
        self.count["runs"] += 1
        self.count["not finished"] += not run.finished
        if not run.finished:
            print(f"  seed {run.seed}, {run.vehicle}, {', '.join(run.faults)}: not finished", flush=True)
        self.count["readings"] += run.readings_spoken
        self.count["readings wrong"] += run.readings_wrong
        self.count["asked again"] += run.asks
        for test in run.tests:
            self.count[f"{test.truth} judged {test.verdict}"] += 1
            self.count["wrong passes"] += test.truth == "fail" and test.verdict == "pass"
            self.count["wrong fails"] += test.truth == "pass" and test.verdict == "fail"
            if test.wrong:
                print(f"  seed {run.seed}, {run.vehicle}, {', '.join(run.faults)}: {test.test} is {test.truth}, "
                      f"judged {test.verdict}: {test.reason}", flush=True)  # fmt: skip

    def tell(self) -> None:
        count = self.count
        print(f"{count['runs']} runs, {count['not finished']} not finished, {count['crashes']} crashes, "
              f"{count['bad logs']} logs that do not verify")  # fmt: skip
        print(f"{count['wrong passes']} wrong passes, {count['wrong fails']} wrong fails")
        for key, number in sorted(count.items()):
            if " judged " in key:
                print(f"  {key}: {number}")
        share = 100 * count["readings wrong"] / max(1, count["readings"])
        print(f"{count['readings']} readings spoken, {count['readings wrong']} wrong in the log ({share:.2f} %), "
              f"{count['asked again']} asked again")  # fmt: skip
        speed = self.simulated_s / max(1e-9, self.wall_s)
        print(f"{self.simulated_s:.0f} simulated seconds in {self.wall_s:.0f} ({speed:.0f} times real time)")


def one(seed: int, ears: Ears, place: Path) -> Run:
    scenario = Scenario(vehicle=CLASSES[seed % len(CLASSES)])
    vehicle = scenario.standing(surprise(scenario.spec, seed))
    return Rehearsal(vehicle, seed, Habits(), ears, "common-practice").run(place)


def holds(run: Run) -> bool:
    """Whether the log's chain holds and its events give the same effects again."""
    kept = verify(Path(run.log))
    fold(build.dialogue_for(kept.header.setup), kept.entries)
    return kept.sealed == run.finished


def measure(count: int, first: int, spoken: bool, noise: str | None) -> None:
    tally, voice = Tally(), Voice() if spoken else None
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as room:
        for seed in range(first, first + count):
            ears: Ears = TypedEars()
            if voice is not None:
                ears = SpokenEars(build.recogniser(model.find()), voice, noise_of(noise) if noise else None, seed)
            try:
                run = one(seed, ears, Path(room))
                tally.add(run)
                tally.count["bad logs"] += not holds(run)
            except Exception:
                tally.count["crashes"] += 1
                print(f"  seed {seed}: {traceback.format_exc(limit=-2)}", flush=True)
    if voice is not None:
        voice.close()
    tally.tell()
    print(f"with the truth of every vehicle: {time.perf_counter() - began:.0f} s")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--typed", type=int, default=0)
    asked.add_argument("--spoken", type=int, default=0)
    asked.add_argument("--noise", default=None)
    asked.add_argument("--first", type=int, default=1, help="seed of the first run")
    given = asked.parse_args()
    if given.typed:
        measure(given.typed, given.first, spoken=False, noise=None)
    if given.spoken:
        measure(given.spoken, given.first, spoken=True, noise=given.noise)


if __name__ == "__main__":
    main()
