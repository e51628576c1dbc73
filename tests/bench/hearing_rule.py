"""What other limits of doubt would have given: `python -m tests.bench.hearing_rule FILE`, where FILE was kept by
`python -m tests.bench.hearing --keep FILE`.

The sound is not heard again: what was heard is understood again, once for each set of limits. To choose limits keep
`--voices tuning`; to know what they are worth, a fresh seed and `--voices held-out`.
"""

from __future__ import annotations

import argparse
import pickle
from collections import Counter
from pathlib import Path

from assistant.core import doubt
from tests.bench.hearing_count import READINGS, Trial, outcome
from tests.bench.hearing_ears import meaning
from tests.bench.hearing_speech import NO_READING

LIMITS = ((0, 0, 0), (1, 1, 0), (2, 2, 0), (2, 3, 0), (2, 3, 0.2), (2, 4, 0.2), (3, 4, 0), (3, 4, 0.2), (5.5, 5.5, 0))
"""Nats that a rival must be behind: any one, a twin; and what is needed more for each dB of noise."""


def main() -> None:
    """Print a line for each condition and set of limits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", type=Path)
    chosen = parser.parse_args()
    trials: list[Trial] = [trial for file in chosen.files for trial in pickle.loads(file.read_bytes())]
    for condition in dict.fromkeys(trial.condition for trial in trials):
        here = [trial for trial in trials if trial.condition == condition]
        for limits in LIMITS:
            print(f"{condition:14} limits {limits}  {_line(here, limits)}")


def _line(trials: list[Trial], limits: tuple[float, float, float]) -> str:
    names = ("NEEDED_NATS", "NEEDED_NATS_TWIN", "NEEDED_NATS_PER_DB")
    kept = {name: getattr(doubt, name) for name in names}
    vars(doubt).update(zip(names, limits, strict=True))
    try:
        outcomes = [(trial.said.kind, outcome(trial.said, meaning(trial.found.heard))) for trial in trials]
    finally:
        vars(doubt).update(kept)
    found = Counter(name for kind, name in outcomes if kind in READINGS)
    none = Counter(name for kind, name in outcomes if kind in NO_READING)
    return (
        f"of {found.total():4}: right {found['right']:4}  wrong {found['wrong']:3}  asked {found['asked']:3}"
        f"  ignored {found['ignored']:3}  |  no reading, accepted {none['wrong']:2} of {none.total()}"
    )


if __name__ == "__main__":
    main()
