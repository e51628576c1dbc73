"""How often what is spoken arrives right: `python -m tests.bench.hearing [--seed N] [--per N] [--quick] ...`.

Fresh utterances by every voice of this machine (a new seed each run unless one is given), in quiet and in cab noise by
formula at a ratio of active speech level (after ITU-T P.56) to noise; and speech that is no reading. The same sound
goes to our ears and to others: vosk with a list of phrases, with a list of sentences and with all its words, and
pocketsphinx with a JSGF grammar. Counts with 95 % Wilson intervals; hearing_count says what is counted. With
`--keep FILE` what our ears heard is kept, and `python -m tests.bench.hearing_rule FILE` shows what other limits of
doubt would have given.
"""

from __future__ import annotations

import argparse
import math
import os
import pickle
import secrets
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from tests.bench import sounds
from tests.bench.hearing_count import Trial, report
from tests.bench.hearing_ears import EARS, Ear
from tests.bench.hearing_speech import BEFORE_S, MAKERS, VOICES, voices
from tests.bench.hearing_texts import TALK
from tests.bench.sounds import Rng, Sound

Noise = Callable[[int, Rng], Sound]
Task = tuple[int, str, int, str, tuple[str, ...], tuple[str, ...]]
"""Seed, group, number in the group, which voices, conditions, ears."""
CONDITIONS: dict[str, tuple[Noise | None, float]] = {
    "clean": (None, 45.0),
    "diesel 10": (sounds.diesel, 10.0),
    "buzzer 10": (sounds.buzzer, 10.0),
    "diesel 5": (sounds.diesel, 5.0),
    "buzzer 0": (sounds.buzzer, 0.0),
    "diesel 0": (sounds.diesel, 0.0),
    "hiss 5": (sounds.hiss, 5.0),
    "diesel 20": (sounds.diesel, 20.0),
    "fast diesel 10": (sounds.fast_diesel, 10.0),
    "purge 5": (sounds.purge, 5.0),
    "pulsed buzzer 5": (sounds.pulsed_buzzer, 5.0),
    "babble 10": (None, 10.0),  # the noise is made of talk by the voices
}
USUAL = list(CONDITIONS)[:7]


def main() -> None:
    """Measure, and print the tables."""
    chosen = _arguments()
    print(f"seed {chosen.seed}, {chosen.per} readings in each condition, voices: {', '.join(_names(chosen.voices))}")
    began = time.monotonic()
    how = chosen.voices, tuple(chosen.conditions), tuple(_ready(chosen.ears))
    tasks = [(chosen.seed, group, at, *how) for group, at in _mix(chosen.per)]
    trials: list[Trial] = []
    memory = 0.0
    spawn = get_context("spawn")
    with ProcessPoolExecutor(chosen.processes, mp_context=spawn, initializer=os.nice, initargs=(5,)) as pool:
        for number, found in enumerate(pool.map(_measured, tasks), 1):
            trials += found[0]
            memory = max(memory, found[1])
            if time.monotonic() - began > 60 * chosen.minutes:
                print(f"The time is up after {number} of {len(tasks)} utterances.")
                pool.shutdown(cancel_futures=True)
                break
    print(report(trials))
    print(f"\nMemory of one process with all of these: {memory:.0f} MB. It took {time.monotonic() - began:.0f} s.")
    if chosen.keep:
        chosen.keep.write_bytes(pickle.dumps([trial for trial in trials if trial.ear == "ours"]))


def _mix(per: int) -> list[tuple[str, int]]:
    """(group, number) of all utterances, so mixed that every beginning of the list has its share of each group."""
    counts = {group: max(1, round(per * rate)) for group, (_, rate) in MAKERS.items()}
    return sorted(
        ((group, at) for group, count in counts.items() for at in range(count)),
        key=lambda one: (one[1] + 0.5) / counts[one[0]],
    )


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=secrets.randbelow(10**6))
    parser.add_argument("--per", type=int, default=80, help="readings in each condition; the rest goes along with it")
    parser.add_argument("--quick", action="store_true", help="a tenth of it, for a first look")
    parser.add_argument("--conditions", nargs="*", choices=list(CONDITIONS), default=USUAL)
    parser.add_argument("--ears", nargs="*", choices=list(EARS), default=list(EARS))
    parser.add_argument("--voices", choices=VOICES, default="all")
    parser.add_argument("--minutes", type=float, default=math.inf, help="then the tables of what there is are printed")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="a file for what our ears heard")
    chosen = parser.parse_args()
    if chosen.quick:
        chosen.per = max(5, chosen.per // 10)
    return chosen


def _names(which: str) -> list[str]:
    return [str(voice) for voice in voices(which)]


def _ready(names: list[str]) -> list[str]:
    try:
        import pocketsphinx  # noqa: F401
    except ImportError:
        if "pocketsphinx" in names:
            print("pocketsphinx is not installed and is left out")
        return [name for name in names if name != "pocketsphinx"]
    return names


def _measured(task: Task) -> tuple[list[Trial], float]:
    return _trials(task), _memory_mb()


def _trials(task: Task) -> list[Trial]:
    """One utterance in every condition through every ear."""
    seed, group, at, which, conditions, ears = task
    rng = np.random.default_rng([seed, list(MAKERS).index(group), at])
    chosen = voices(which)
    voice = chosen[at % len(chosen)]
    said = MAKERS[group][0](voice, rng)
    told = replace(said, sound=np.zeros(0, np.float32))
    trials = []
    for condition in conditions:
        noise, ratio = CONDITIONS[condition]
        chance = np.random.default_rng([seed, list(MAKERS).index(group), at, list(CONDITIONS).index(condition)])
        if condition.startswith("babble"):
            noise = sounds.babble([sounds.speak(other, str(chance.choice(TALK)), chance) for other in chosen[:4]])
        mixed = sounds.in_noise(said.sound, noise, ratio, chance, BEFORE_S)
        for ear in ears:
            hear = _ear(ear)
            began = time.process_time()
            found = hear(mixed)
            trials.append(Trial(condition, ear, told, found, time.process_time() - began, len(mixed) / sounds.RATE))
    return trials


@cache
def _ear(name: str) -> Ear:
    return EARS[name]()


def _memory_mb() -> float:
    if sys.platform == "win32":
        return float("nan")
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024 if sys.platform.startswith("linux") else 1024 * 1024)


if __name__ == "__main__":
    main()
