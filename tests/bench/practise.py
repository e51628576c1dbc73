"""Teaches the second opinion: `python -m tests.bench.practise FILE` writes assistant/ears/spelling.onnx.

FILE is the encoder as it was published, assets/tiny-en/encoder_model.ort in the wheel of moonshine-voice 0.0.73. It
speaks utterances in the voices of `practice.voices`, puts them into cab noise and through the front end, and lets the
network go through what comes out: a new one, or with `--go-on` the one that is shipped, and then writes the mean of
both. On two cores 5 200 utterances and three rounds take 80 minutes, a third of it for the voices. `--utterances 200
--rounds 1 --to FILE` shows in a minute that it works. Needs the extras `sounds` and `practise`, the voices of Kokoro
(DEVELOPERS.md, "Teach") and the programs espeak-ng, flite and festival with the voices cmu_us_slt_arctic_hts and
ked_diphone.
"""

from __future__ import annotations

import argparse
import copy
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from assistant.ears import opinion
from assistant.vehicle.noise import Sound
from tests.bench.practice import mixing, texts, voices
from tests.bench.practice.encoder import published
from tests.bench.practice.learning import Lesson, learn
from tests.bench.practice.network import Network
from tests.bench.sounds import RATE, Rng

SHORTEST_S, LONGEST_S = 0.125, 7.0
NATURAL = {voices.neural, voices.joe, voices.pico}
NOISES = 4
"""In how many noises an utterance of a natural voice is heard: these are dear. The others are heard in half of them."""
NO_SPEECH, NO_SPEECH_S = 0.03, (0.4, 1.6)
"""So many of a hundred lessons are bursts of noise; there is nothing to write."""
GOING_ON = 0.6
KEPT = 0.3
"""Of the weights as they were (after Wortsman et al. 2022, robust fine-tuning): of 504 readings by voices that are no
teachers the letters of 460 were right before the third time, of 456 after it, of 463 with this mean; with 0.2, 0.5 and
0.65 of 462, 460 and 457."""
CHUNK = 200  # utterances

Maker = Callable[[str, Rng], Sound]


def main() -> None:
    """Speak, mix, learn, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("published", type=Path, metavar="FILE")
    parser.add_argument("--utterances", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=8)
    parser.add_argument("--go-on", action="store_true", help="from the file that is shipped, at half the pace")
    parser.add_argument("--seed", type=int, default=77)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--to", type=Path, default=opinion.FILE)
    chosen = parser.parse_args()
    chunks = [(chosen.seed, at, min(CHUNK, chosen.utterances - at)) for at in range(0, chosen.utterances, CHUNK)]
    lessons: list[Lesson] = []
    with ProcessPoolExecutor(chosen.processes, mp_context=get_context("spawn")) as pool:
        for made in pool.map(_lessons, chunks):
            lessons += made
    print(f"{len(lessons)} lessons by {len({one.voice for one in lessons})} programs")
    network = Network(published(chosen.published))
    if chosen.go_on:
        network.read(opinion.FILE)
    before = copy.deepcopy(network)
    haste = GOING_ON if chosen.go_on else 1.0
    learn(network, published(chosen.published), lessons, chosen.rounds, np.random.default_rng(chosen.seed), haste)
    if chosen.go_on:
        network.mix(before, KEPT)
    network.write(chosen.to)
    print(f"{chosen.to.name}: {chosen.to.stat().st_size / 1e6:.1f} MB")


def _lessons(chunk: tuple[int, int, int]) -> list[Lesson]:
    """A chunk of utterances, each in its noises."""
    seed, at, count = chunk
    rng = np.random.default_rng([seed, at])
    makers: list[Maker] = list(voices.SHARES)
    chances = np.array([share for share, _ in voices.SHARES.values()])
    spoken: list[tuple[Maker, str, Sound]] = []
    for _ in range(count):
        maker, text = makers[int(rng.choice(len(makers), p=chances / chances.sum()))], texts.text(rng)
        sound = voices.utterance(text, maker, rng)
        if SHORTEST_S * RATE < len(sound) < LONGEST_S * RATE:
            spoken.append((maker, text, sound))
    others = [sound for _, _, sound in spoken]
    lessons = [
        Lesson(maker.__name__, text, *mixing.heard(sound, others, rng))
        for maker, text, sound in spoken
        for _ in range(NOISES if maker in NATURAL else NOISES // 2)
    ]
    for _ in range(round(NO_SPEECH * len(lessons))):
        burst = rng.normal(0, 0.05, int(rng.uniform(*NO_SPEECH_S) * RATE)).astype(np.float32)
        lessons.append(Lesson("none", "", *mixing.heard(burst, others, rng)))
    return lessons


if __name__ == "__main__":
    main()
