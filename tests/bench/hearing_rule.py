"""What other limits of doubt would have given: `python -m tests.bench.hearing_rule FILE`, where FILE was kept by
`python -m tests.bench.hearing --keep FILE`.

The sound is not heard again: what was heard is understood again, once for each set of limits. To choose limits keep
`--voices tuning`; to know what they are worth, a fresh seed and `--voices held-out`.
"""

from __future__ import annotations

import argparse
import pickle
from collections import Counter
from dataclasses import replace
from pathlib import Path

from assistant.core import doubt
from tests.bench.hearing_count import READINGS, Trial, outcome
from tests.bench.hearing_ears import meaning
from tests.bench.hearing_speech import NO_READING

ALONE = ((0, 0, 0), (1.5, 3, 0.2), (1.5, 4.5, 0.2), (1.5, 4.5, 0.3), (2, 5.5, 0.3))
TOGETHER = ((0, 0, 0), (2, 4.5, 0), (2, 4.5, 0.1), (2, 5.5, 0), (2, 5.5, 0.1), (2, 6.5, 0.1), (3, 6.5, 0.2))
"""Nats that a rival must be behind: any one, a twin; and what is needed more for each dB of noise. By the recogniser
alone, and together with the second opinion."""


def main() -> None:
    """Print a line for each condition and set of limits."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", type=Path)
    chosen = parser.parse_args()
    trials: list[Trial] = [trial for file in chosen.files for trial in pickle.loads(file.read_bytes())]
    for condition in dict.fromkeys(trial.condition for trial in trials):
        here = [trial for trial in trials if trial.condition == condition]
        for limits in ALONE:
            print(f"{condition:14} alone    {limits!s:14} {_line([_alone(trial) for trial in here], limits)}")
        for limits in TOGETHER:
            print(f"{condition:14} together {limits!s:14} {_line(here, limits)}")


def _alone(trial: Trial) -> Trial:
    """What was heard without the second opinion."""
    heard = tuple(
        one.model_copy(
            update={"rivals": tuple(rival.model_copy(update={"behind_second": None}) for rival in one.rivals)}
        )
        for one in trial.found.heard
    )
    return replace(trial, found=replace(trial.found, heard=heard))


def _line(trials: list[Trial], limits: tuple[float, float, float]) -> str:
    names = ("ALONE", "TOGETHER")
    kept = {name: getattr(doubt, name) for name in names}
    vars(doubt).update(dict.fromkeys(names, doubt.Needs(*limits)))
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
