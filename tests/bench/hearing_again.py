"""What is right after repeats: `python -m tests.bench.hearing_again [--noise "diesel 5"] [--per N] [--voices ...]`.

A driver who is asked again, or gets no answer, says the same once more and then digit by digit, each time in new noise.
Prints how many readings were right or wrong after the first time, the second and the third; a value that was accepted
and not said is wrong for good.
"""

from __future__ import annotations

import argparse
import os
import secrets
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context

import numpy as np

from tests.bench import sounds
from tests.bench.hearing import CONDITIONS
from tests.bench.hearing_count import outcome
from tests.bench.hearing_ears import EARS, Ear
from tests.bench.hearing_speech import BEFORE_S, VOICES, Spoken, number, one_by_one, said, voices
from tests.bench.shares import share
from tests.bench.sounds import Rng, Voice

TIMES = 3
Task = tuple[int, int, str, str]
"""Seed, number, which voices, noise."""


def main() -> None:
    """Measure, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=secrets.randbelow(10**6))
    parser.add_argument("--per", type=int, default=200, help="readings")
    parser.add_argument("--noise", choices=[name for name in CONDITIONS if "babble" not in name], default="diesel 5")
    parser.add_argument("--voices", choices=VOICES, default="all")
    parser.add_argument("--processes", type=int, default=2)
    chosen = parser.parse_args()
    tasks = [(chosen.seed, at, chosen.voices, chosen.noise) for at in range(chosen.per)]
    spawn = get_context("spawn")
    with ProcessPoolExecutor(chosen.processes, mp_context=spawn, initializer=os.nice, initargs=(5,)) as pool:
        found = list(pool.map(_outcomes, tasks))
    print(f"seed {chosen.seed}, {chosen.noise}, {chosen.per} readings; after so many times of saying it:")
    for times in range(1, TIMES + 1):
        last = Counter(one[min(times, len(one)) - 1] for one in found)
        right, wrong = (share(last[name], chosen.per) for name in ("right", "wrong"))
        print(f"{times}: right {right}  wrong {wrong}  neither {last['asked'] + last['ignored']}")


def _outcomes(task: Task) -> list[str]:
    """What came of each time, until it was right or wrong."""
    seed, at, which, noise = task
    rng = np.random.default_rng([seed, at])
    chosen = voices(which)
    outcomes = []
    for spoken in _sayings(chosen[at % len(chosen)], rng):
        mixed = sounds.in_noise(spoken.sound, *CONDITIONS[noise], rng, BEFORE_S)
        outcomes.append(outcome(spoken, _ears()(mixed)))
        if outcomes[-1] in ("right", "wrong"):
            break
    return outcomes


def _sayings(voice: Voice, rng: Rng) -> Iterator[Spoken]:
    value, words = number(rng)
    while not sounds.can_say(voice, words):
        value, words = number(rng)
    for text in (words, words, one_by_one(int(value))):
        yield said("reading", text, (value,), voice, rng)


@cache
def _ears() -> Ear:
    return EARS["ours"]()


if __name__ == "__main__":
    main()
