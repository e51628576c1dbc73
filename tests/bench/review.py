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
from pathlib import Path

from assistant import assets
from assistant.cli import build
from assistant.log import read
from assistant.review.examined import examine
from assistant.review.history.index import update
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


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _gladhand(*arguments: str, cache: str) -> float:
    """Seconds of a whole process."""
    command = [sys.executable, "-m", "assistant", *arguments]
    place = {**os.environ, "XDG_CACHE_HOME": cache}
    return seconds(lambda: subprocess.run(command, env=place, capture_output=True, check=True))


def history(folder: Path, logs: int) -> None:
    made = seconds(lambda: list(put_fleet(folder / "logs", VEHICLES, logs // VEHICLES)))
    count = len(list((folder / "logs").glob("*.jsonl")))
    print(f"{count} logs of {VEHICLES} vehicles made in {made:.1f} s")
    first = seconds(lambda: update(folder / "logs", folder / "index", lambda *_: None))
    print(f"indexed: {first:.1f} s ({count / first:.0f} logs a second)")
    again = seconds(lambda: update(folder / "logs", folder / "index", lambda *_: None))
    checks, damaged = update(folder / "logs", folder / "index", lambda *_: None)
    wanted = Wanted(vehicle="T-1003")
    query = seconds(lambda: (summaries(checks, "vehicle"), trends(checks)))
    one = seconds(lambda: trends([check for check in checks if wanted.takes(check)]))
    flagged = [trend for trend in trends(checks) if trend.flagged]
    print(f"again, nothing changed: {again:.2f} s; {len(checks)} checks, {len(damaged)} damaged")
    print(f"queried: all vehicles with trends {query:.2f} s, one vehicle {one:.3f} s; {len(flagged)} flagged")
    _gladhand("history", str(folder / "logs"), cache=str(folder))
    whole = min(_gladhand("history", str(folder / "logs"), cache=str(folder)) for _ in range(3))
    print(f"again, whole process `gladhand history`: {whole:.2f} s")


def report(folder: Path) -> None:
    log = log_of(Walk(*WHOLE), folder / "whole.jsonl", fleet_number="T-1042")

    def make() -> str:
        seen = examine(log, build.dialogue_for, build.fingerprints)
        wording = Wording(assets.prompts(), build.language().written)
        return page(seen, results(seen, wording), wording)

    size = len(make().encode())
    inside = min(seconds(make) for _ in range(5))
    whole = min(_gladhand("report", str(log), cache=str(folder)) for _ in range(5))
    print(f"report: {inside:.2f} s, whole process {whole:.2f} s, {size / 1000:.0f} kB without sound")


def replay(folder: Path) -> None:
    log = log_of(Walk(*WHOLE), folder / "replayed.jsonl")
    kept = read(log)
    dialogue = build.dialogue_for(kept.header.setup)
    fold(dialogue, kept.entries)
    took = seconds(lambda: [fold(dialogue, kept.entries) for _ in range(ROUNDS)])
    print(f"recomputed: {ROUNDS / took:.0f} checks a second ({len(kept.entries)} entries each)")


def main() -> None:
    logs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        report(Path(folder))
        replay(Path(folder))
        history(Path(folder), logs)


if __name__ == "__main__":
    main()
