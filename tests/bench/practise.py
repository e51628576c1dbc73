"""Teaches the speller: `python -m tests.bench.practise` writes assistant/ears/spelling.npz.

It speaks 20 000 utterances in the voices of `practice.voices`, puts them into cab noise, through the front end and
through the encoder of the second opinion (`gladhand model fetch`), and lets the network go through what comes out. On
two cores that takes an hour, most of it for the neural voice. `--utterances 200
--rounds 1 --to FILE` shows in a minute that it works. Needs the extras `sounds` and `practise`, and the programs
espeak-ng, flite and festival with the voices cmu_us_slt_arctic_hts and ked_diphone.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from assistant.ears import opinion
from assistant.ears.opinion import Encoder
from tests.bench.practice import mixing, texts, voices
from tests.bench.practice.network import Lesson, Network, learn
from tests.bench.sounds import RATE, Sound

FILE = Path(__file__).parents[2] / "assistant" / "ears" / "spelling.npz"
SHORTEST_S, LONGEST_S = 0.125, 7.0
TIMES = {"espeak": 1, "flite": 1, "festival": 1, "neural": 2}
"""In how many noises each utterance is heard: natural voices are few and dear, so they come more often."""
CHUNK = 200  # utterances


def main() -> None:
    """Speak, mix, learn, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--utterances", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--seed", type=int, default=77)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--to", type=Path, default=FILE)
    chosen = parser.parse_args()
    chunks = [(chosen.seed, at, min(CHUNK, chosen.utterances - at)) for at in range(0, chosen.utterances, CHUNK)]
    lessons: list[Lesson] = []
    with ProcessPoolExecutor(chosen.processes, mp_context=get_context("spawn")) as pool:
        for made in pool.map(_lessons, chunks):
            lessons += made
    print(f"{len(lessons)} lessons by {len({one.voice for one in lessons})} programs")
    network = Network()
    learn(network, lessons, chosen.rounds, np.random.default_rng(chosen.seed))
    np.savez(chosen.to, **network.arrays())
    print(f"{chosen.to.name}: {chosen.to.stat().st_size / 1e6:.1f} MB")


def _lessons(chunk: tuple[int, int, int]) -> list[Lesson]:
    """A chunk of utterances, each in its noises."""
    seed, at, count = chunk
    rng = np.random.default_rng([seed, at])
    makers = list(voices.SHARES)
    chances = np.array(list(voices.SHARES.values())) / sum(voices.SHARES.values())
    spoken: list[tuple[str, str, Sound]] = []
    for _ in range(count):
        maker, text = makers[int(rng.choice(len(makers), p=chances))], texts.text(rng)
        sound = voices.utterance(text, maker, rng)
        if SHORTEST_S * RATE < len(sound) < LONGEST_S * RATE:
            spoken.append((maker.__name__, text, sound))
    others = [sound for _, _, sound in spoken]
    return [
        Lesson(name, text, _encoder().heard(mixing.heard(sound, others, rng)).astype(np.float16))
        for name, text, sound in spoken
        for _ in range(TIMES[name])
    ]


@cache
def _encoder() -> Encoder:
    return Encoder(opinion.home())


if __name__ == "__main__":
    main()
