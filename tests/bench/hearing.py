"""How often a spoken reading arrives right: `python -m tests.bench.hearing [--seed N] [--per N]`.

Fresh utterances from every voice of this machine (seeded, a new seed each run unless one is given), in quiet and in
noise by formula at a ratio of active speech level to noise (ITU-T P.56-like), and speech that is no reading. The same
sound goes to our ears and to two baselines: the list of phrases that the recogniser's documentation shows, and open
vocabulary with the numbers parsed out. Counts with 95 % Wilson intervals.

right: all values right at first hearing. wrong: a value that was not spoken was accepted. asked: asked again.
ignored: taken for talk. For speech that is no reading, wrong counts what was taken for a reading.
"""

from __future__ import annotations

import argparse
import json
import secrets
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import vosk

from assistant.cli import build
from assistant.core.hearing import understand
from assistant.core.numbers import NUMBER, spellings, value_of
from assistant.ears import model
from tests.bench import sounds
from tests.bench.sounds import Rng, Sound

CARRIERS = (
    "{}",
    "it's at {}",
    "reads {}",
    "needle is at {}",
    "primary {}",
    "secondary {}",
    "{} psi",
    "i have {}",
    "{} on the primary",
    "the gauge says {}",
)
TALK = (
    "we left the depot at half past nine",
    "there were thirty people in the queue",
    "can you pass me the map",
    "i think he lives at number twelve",
    "that costs forty dollars these days",
    "it was about ninety degrees yesterday",
    "turn the radio down please",
    "my sister has two children",
    "call me back in twenty minutes",
    "the other truck is parked behind us",
    "what time do you finish today",
    "he said one hundred times that he was sorry",
    "wheels are chocked",
    "let the pressure rise until the needle stops",
    "did you see the game last night",
    "they moved to the fifth floor",
)
CONDITIONS: dict[str, tuple[Callable[[int, Rng], Sound] | None, float]] = {
    "clean": (None, 45.0),
    "diesel 10 dB": (sounds.diesel, 10.0),
    "diesel 5 dB": (sounds.diesel, 5.0),
    "diesel 0 dB": (sounds.diesel, 0.0),
    "buzzer 10 dB": (sounds.buzzer, 10.0),
    "buzzer 0 dB": (sounds.buzzer, 0.0),
    "hiss 5 dB": (sounds.hiss, 5.0),
}
Found = tuple[str, tuple[float, ...]]
"""What an ear says: "reading" with its values, "asked" or "ignored"."""


@dataclass(frozen=True)
class Spoken:
    """`value` None: speech that is no reading."""

    text: str
    value: float | None
    sound: Sound


def utterances(per: int, rng: Rng) -> Iterator[Spoken]:
    """`per` readings from 0 to 150 psi, a third of them teens and tens, and half as many that are none."""
    voices = sounds.voices()
    for number in range(per + per // 2):
        voice = voices[number % len(voices)]
        if number < per:
            value, words = _number(rng)
            text = str(rng.choice(CARRIERS)).format(words)
            yield Spoken(text, value, sounds.speak(voice, text, rng))
        else:
            text = str(rng.choice(TALK))
            yield Spoken(text, None, sounds.speak(voice, text, rng))


def _number(rng: Rng) -> tuple[float, str]:
    alike = [*range(13, 20), *range(30, 100, 10), *range(113, 120), 130, 140, 150]
    value = int(rng.choice(alike)) if rng.random() < 1 / 3 else int(rng.integers(0, 151))
    ways = _ways()[value]
    return value, " ".join(ways[int(rng.integers(len(ways)))])


@cache
def _ways() -> dict[float, list[tuple[str, ...]]]:
    found: dict[float, list[tuple[str, ...]]] = {}
    for words, value in spellings(NUMBER[:1]):
        found.setdefault(value, []).append(words)
    return found


def ours() -> Callable[[Sound], Found]:
    """The ears of the product, made anew for each utterance."""
    folder = model.find()

    def hear(sound: Sound) -> Found:
        ears = build.recogniser(folder)
        samples = _int16(sound)
        heard = [one for at in range(0, len(samples), 800) for one in ears.feed(samples[at : at + 800])] + ears.finish()
        meant = [understand(one, build.language(), "psi") for one in heard]
        values = tuple(reading.value for one in meant for reading in one.readings)
        if values:
            return "reading", values
        return ("asked" if any(one.kind == "unclear" and one.why != "talk" for one in meant) else "ignored"), ()

    return hear


def listed(phrases: list[str] | None) -> Callable[[Sound], Found]:
    """A baseline: the model with a list of phrases, or with its whole vocabulary."""
    vosk.SetLogLevel(-1)
    loaded = vosk.Model(str(model.find()))

    def hear(sound: Sound) -> Found:
        arguments: tuple[Any, ...] = () if phrases is None else (json.dumps(phrases),)
        recogniser = vosk.KaldiRecognizer(loaded, sounds.RATE, *arguments)
        recogniser.AcceptWaveform(_int16(sound).tobytes())
        values = tuple(_numbers_in(json.loads(recogniser.FinalResult())["text"].split()))
        return ("reading", values) if values else ("ignored", ())

    return hear


def _numbers_in(words: list[str]) -> Iterator[float]:
    """The numbers in a text, each as long as it can be."""
    at = 0
    while at < len(words):
        for end in range(min(len(words), at + 8), at, -1):
            value = value_of(tuple(words[at:end]))
            if value is not None:
                yield value
                at = end
                break
        else:
            at += 1


def _int16(sound: Sound) -> np.ndarray:
    return (np.clip(sound, -1, 1) * 32767).astype(np.int16)


def outcome(spoken: Spoken, found: Found) -> str:
    kind, values = found
    if kind != "reading":
        return kind
    if spoken.value is None:
        return "wrong"
    return "right" if values == (spoken.value,) else "wrong"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=secrets.randbelow(10**6))
    parser.add_argument("--per", type=int, default=120, help="readings for each condition")
    parser.add_argument("--conditions", nargs="*", choices=list(CONDITIONS), default=list(CONDITIONS))
    chosen = parser.parse_args()
    phrases = [" ".join(ways[0]) for value, ways in _ways().items() if value <= 160]
    ears = {"ours": ours(), "phrase list": listed([*phrases, "[unk]"]), "open": listed(None)}
    print(f"seed {chosen.seed}, voices: {', '.join(map(str, sounds.voices()))}")
    for condition in chosen.conditions:
        rng = np.random.default_rng([chosen.seed, list(CONDITIONS).index(condition)])
        noise, ratio = CONDITIONS[condition]
        made = [
            Spoken(one.text, one.value, sounds.in_noise(one.sound, noise, ratio, rng))
            for one in utterances(chosen.per, rng)
        ]
        for name, hear in ears.items():
            _report(condition, name, made, hear)


def _report(condition: str, name: str, made: list[Spoken], hear: Callable[[Sound], Found]) -> None:
    began = time.process_time()
    counts: dict[bool, Counter[str]] = {True: Counter(), False: Counter()}
    for spoken in made:
        counts[spoken.value is not None][outcome(spoken, hear(spoken.sound))] += 1
    factor = (time.process_time() - began) / sum(len(spoken.sound) / sounds.RATE for spoken in made)
    readings, others = counts[True], counts[False]
    of, talk = readings.total(), others.total()
    low, high = sounds.wilson(readings["right"], of)
    print(
        f"{condition:13} {name:12} right {readings['right']:4}/{of} [{100 * low:.1f}-{100 * high:.1f} %]"
        f"  wrong {readings['wrong']:3}  asked {readings['asked']:3}  ignored {readings['ignored']:3}"
        f"  |  no reading: taken for one {others['wrong']:3}/{talk}, asked {others['asked']:3}"
        f"  |  {factor:.3f} of real time",
        flush=True,
    )


if __name__ == "__main__":
    main()
