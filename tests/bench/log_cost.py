"""What a session log costs: the time of an append with its flush, the size of a line, the speed of verifying.

Run: python -m tests.bench.log_cost [ENTRIES] [FOLDER]. The folder decides which disk is measured.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from log_sample import NoFlush, add, header

from assistant.log import Disk, SessionLog, verify


def appends(folder: Path, entries: int, disk: Disk) -> tuple[Path, list[float]]:
    """A sealed log of that many entries, and the ms that each append took."""
    took: list[float] = []
    with SessionLog.create(folder, header(), disk=disk) as log:
        for number in range(entries):
            before = time.perf_counter()
            add(log, number)
            took.append(1000 * (time.perf_counter() - before))
        log.seal()
    return log.path, took


def told(name: str, took: list[float]) -> str:
    cuts = statistics.quantiles(took, n=100)
    return f"{name}: median {cuts[49]:.2f} ms, 99 of 100 below {cuts[98]:.2f} ms, longest {max(took):.2f} ms"


def main() -> None:
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    with tempfile.TemporaryDirectory(dir=sys.argv[2] if len(sys.argv) > 2 else None) as name:
        folder = Path(name)
        path, took = appends(folder, entries, Disk())
        print(told(f"append and flush, {entries} entries", took))
        print(told("append without flush", appends(folder, entries, NoFlush())[1]))
        size = os.path.getsize(path)
        print(f"size: {size / 1024:.0f} KiB, {size / entries:.0f} bytes an entry")
        before = time.perf_counter()
        session = verify(path)
        spent = time.perf_counter() - before
        print(f"verify: {len(session.entries)} entries in {1000 * spent:.1f} ms, {size / spent / 1e6:.1f} MB/s")


if __name__ == "__main__":
    main()
