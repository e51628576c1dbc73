"""How long the review of finished checks takes: `python -m tests.bench.review [LOGS]`.

Prints what it counted. Whole processes are started as a user would, so their figures hold the start of the program.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from assistant import assets
from assistant.cli import build
from assistant.log import read
from assistant.review.examined import examine, opened
from assistant.review.history.index import update
from assistant.review.history.reading import Check
from assistant.review.history.summary import Wanted, summaries
from assistant.review.history.trend import trends
from assistant.review.replay import fold
from assistant.review.report import page
from assistant.review.results import results
from assistant.review.story import Wording
from tests.fleet import put_fleet
from tests.log_sample import log_of
from tests.walk import WHOLE, Walk

VEHICLES = 100
ROUNDS = 20


@dataclass(frozen=True)
class Took:
    """`wall`: by the clock on the wall, `cpu`: of this process and those that it started; both in seconds."""

    wall: float
    cpu: float

    def __str__(self) -> str:
        return f"{self.wall:.2f} s ({self.cpu:.2f} s of processor)"


def took(work: Callable[[], object]) -> Took:
    began, before = time.perf_counter(), os.times()
    work()
    after = os.times()
    return Took(time.perf_counter() - began, sum(after[:4]) - sum(before[:4]))


def fastest(work: Callable[[], object], times: int) -> Took:
    return min((took(work) for _ in range(times)), key=lambda one: one.wall)


def _gladhand(*arguments: str, cache: str) -> None:
    """A whole process, with its modules compiled as they are in an installed program."""
    command = [sys.executable, "-m", "assistant", *arguments]
    surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run(command, env={**surroundings, "XDG_CACHE_HOME": cache}, capture_output=True, check=True)


def history(folder: Path, logs: int) -> None:
    place = folder / "logs"
    made = took(lambda: list(put_fleet(place, VEHICLES, logs // VEHICLES)))
    count = len(list(place.glob("*.jsonl")))
    print(f"{count} logs of {VEHICLES} vehicles made: {made}")

    def look() -> list[Check]:
        return update(place, folder / "index", lambda *_: None, build.dialogue_for)[0]

    first, again, checks = took(look), fastest(look, 3), look()
    print(f"indexed: {first}, {count / first.wall:.0f} logs a second")
    print(f"again, nothing changed: {again}; {len(checks)} checks")
    every = fastest(lambda: (summaries(checks, "vehicle"), trends(checks)), 3)
    one = fastest(lambda: trends([check for check in checks if Wanted(vehicle="T-1003").takes(check)]), 3)
    flagged = sum(trend.flagged for trend in trends(checks))
    print(f"queried: every vehicle with its trends {every}, one vehicle {one}; {flagged} flagged")
    command = partial(_gladhand, "history", str(place), cache=str(folder))
    command()
    print(f"again, whole process: {fastest(command, 3)}")


def report(folder: Path) -> None:
    log = log_of(Walk(*WHOLE), folder / "whole.jsonl", fleet_number="T-1042")

    def make() -> str:
        seen = examine(opened(log), build.dialogue_for, build.fingerprints)
        wording = Wording(assets.prompts(), build.language("psi"))
        return page(seen, results(seen, wording), wording)

    size = len(make().encode())
    whole = fastest(partial(_gladhand, "report", str(log), cache=str(folder)), 5)
    print(f"report: {fastest(make, 5)}, whole process {whole}; {size / 1000:.0f} kB without sound")


def replay(folder: Path) -> None:
    kept = read(log_of(Walk(*WHOLE), folder / "replayed.jsonl"))
    dialogue = build.dialogue_for(kept.header.setup)
    fold(dialogue, kept.entries)
    one = fastest(lambda: [fold(dialogue, kept.entries) for _ in range(ROUNDS)], 3)
    rates = f"{ROUNDS / one.wall:.0f} checks a second, {ROUNDS / one.cpu:.0f} a second of processor"
    print(f"recomputed: {rates} ({len(kept.entries)} entries each)")


def main() -> None:
    logs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        report(Path(folder))
        replay(Path(folder))
        history(Path(folder), logs)


if __name__ == "__main__":
    main()
