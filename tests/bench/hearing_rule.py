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

LIMITS = (
    *((2, 3, 0.1, 8), (1, 2, 0.1, 8), (3, 4, 0.1, 8), (2, 3, 0, 8), (2, 3, 0.2, 8), (2, 3, 0.3, 8)),
    *((2, 3, 0.1, 4), (2, 3, 0.1, 6), (2, 3, 0.1, 12)),
)
"""Nats that a rival must be behind: any one, a twin; what is needed more for each dB of noise; and how far the text may
be behind letters in no language. By the recogniser alone (`--ears "no second"`) the last one has no meaning."""


def main() -> None:
    """Print a line for each condition and set of limits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", type=Path)
    chosen = parser.parse_args()
    trials: list[Trial] = [trial for file in chosen.files for trial in pickle.loads(file.read_bytes())]
    for condition in dict.fromkeys(trial.condition for trial in trials):
        here = [trial for trial in trials if trial.condition == condition]
        for limits in LIMITS:
            print(f"{condition:14} {limits!s:18} {_line(here, limits)}")


def _line(trials: list[Trial], limits: tuple[float, float, float, float]) -> str:
    names = ("ALONE", "TOGETHER", "UNLIKE_NATS")
    kept = {name: getattr(doubt, name) for name in names}
    *needs, unlike = limits
    vars(doubt).update(dict.fromkeys(names[:2], doubt.Needs(*needs)) | {"UNLIKE_NATS": unlike})
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
