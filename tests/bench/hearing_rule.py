"""What other limits of doubt would have given: `python -m tests.bench.hearing_rule FILE`, where FILE was kept by
`python -m tests.bench.hearing --keep FILE`.

The sound is not heard again: what was heard is understood again, once for each set of limits. To choose limits keep
`--voices untaught`; to know what they are worth, a fresh seed and `--voices held-out`.
"""

from __future__ import annotations

import argparse
import math
import pickle
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from assistant.core import doubt
from tests.bench.hearing_count import READINGS, Trial, outcome
from tests.bench.hearing_ears import meaning
from tests.bench.hearing_speech import NO_READING

Limits = Mapping[str, object]
"""Constants of `assistant.core.doubt` by name: what they are instead."""
OTHERS: dict[str, Limits] = {
    "as they are": {},
    **{
        f"{usual}, {twin}, {per_db}": {"TOGETHER": doubt.Needs(usual, twin, per_db)}
        for usual, twin, per_db in ((1, 2, 0), (3, 6, 0), (4, 8, 0.15), (8, 14, 0.15), (12, 20, 0.3), (20, 30, 0.5))
    },
    "farther in noise": {"TOGETHER": doubt.TOGETHER._replace(per_db=0.3)},
    "only one word": {"FEW_WORDS": 1},
    "words as well": {"ONE_WORD_NATS": -math.inf},
    "nothing unheard": {"UNHEARD_NATS": math.inf},
    "spelled worse": {"UNLIKE_NATS": 6.0},
    "spelled better": {"UNLIKE_NATS": 2.0},
    "longer, worse": {"UNLIKE_NATS_A_LETTER": 0.4},
    "longer, better": {"UNLIKE_NATS_A_LETTER": 0.2},
}


def main() -> None:
    """Print a line for each condition and set of limits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", type=Path)
    chosen = parser.parse_args()
    trials: list[Trial] = [trial for file in chosen.files for trial in pickle.loads(file.read_bytes())]
    for condition in dict.fromkeys(trial.condition for trial in trials):
        here = [trial for trial in trials if trial.condition == condition]
        for name, limits in OTHERS.items():
            readings, none = counts(here, limits)
            print(
                f"{condition:14} {name:16} of {readings.total():4}: right {readings['right']:4}  "
                f"wrong {readings['wrong']:3}  asked {readings['asked']:3}  ignored {readings['ignored']:3}  |  "
                f"no reading, accepted {none['wrong']:2} of {none.total()}"
            )


def counts(trials: Sequence[Trial], limits: Limits) -> tuple[Counter[str], Counter[str]]:
    """How often readings, and what is none, come out how with these limits."""
    kept = {name: getattr(doubt, name) for name in limits}
    vars(doubt).update(limits)
    try:
        found = [(trial.said.kind, outcome(trial.said, meaning(trial.found.heard))) for trial in trials]
    finally:
        vars(doubt).update(kept)
    readings = Counter(name for kind, name in found if kind in READINGS)
    return readings, Counter(name for kind, name in found if kind in NO_READING)


if __name__ == "__main__":
    main()
