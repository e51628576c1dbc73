"""What the front end is worth: `python -m tests.bench.frontend [--seed N] [--per N]`.

The same fresh utterances, in quiet and in noise by formula, go twice through the ears of the product: with the front
end and without it. Counts with 95 % Wilson intervals, as in tests/bench/hearing; `only this way` are the utterances
that were right in one of the two and not in the other, from which the two-sided sign test tells whether the difference
may be chance. The real time factor is processor time over the length of the sound.
"""

from __future__ import annotations

import argparse
import math
import secrets
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from assistant import assets
from assistant.cli import build
from assistant.core.hearing import understand
from assistant.ears import grammar, model, strict
from assistant.ears.frontend import FrontEnd
from assistant.ears.recogniser import Recogniser
from tests.bench import sounds
from tests.bench.hearing import Spoken, outcome, utterances
from tests.bench.sounds import Rng, Sound

CONDITIONS: dict[str, tuple[Callable[[int, Rng], Sound] | None, float]] = {
    "clean": (None, 45.0),
    "diesel 10 dB": (sounds.diesel, 10.0),
    "diesel 5 dB": (sounds.diesel, 5.0),
    "diesel 0 dB": (sounds.diesel, 0.0),
    "hiss 5 dB": (sounds.hiss, 5.0),
    "buzzer 5 dB": (sounds.buzzer, 5.0),
    "buzzer 0 dB": (sounds.buzzer, 0.0),
}
BLOCK = 800


@dataclass
class Counts:
    """`right`: by utterance, for the comparison of the two ways. `spent`: seconds of the processor."""

    readings: Counter[str] = field(default_factory=Counter)
    talk: Counter[str] = field(default_factory=Counter)
    right: list[bool] = field(default_factory=list)
    spent: float = 0.0


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=secrets.randbelow(10**6))
    parser.add_argument("--per", type=int, default=60, help="readings for each condition, half as many that are none")
    parser.add_argument("--conditions", nargs="*", choices=list(CONDITIONS), default=list(CONDITIONS))
    chosen = parser.parse_args()
    language = grammar.read(assets.grammars(), "psi")
    folder = strict.prepare(model.find(), language, grammar.compile_acceptor)
    print(f"seed {chosen.seed}, voices: {', '.join(map(str, sounds.voices()))}")
    for condition in chosen.conditions:
        rng = np.random.default_rng([chosen.seed, list(CONDITIONS).index(condition)])
        noise, ratio = CONDITIONS[condition]
        made = [
            Spoken(one.text, one.value, sounds.in_noise(one.sound, noise, ratio, rng))
            for one in utterances(chosen.per, rng)
        ]
        _report(condition, made, *(_counted(made, folder, front_end) for front_end in (False, True)))


def _counted(made: list[Spoken], folder: Path, front_end: bool) -> Counts:
    counts = Counts()
    for spoken in made:
        ears = Recogniser(folder, stand=build.language().stand, front_end=front_end)
        began = time.process_time()
        found = outcome(spoken, _heard(ears, spoken.sound))
        counts.spent += time.process_time() - began
        (counts.talk if spoken.value is None else counts.readings)[found] += 1
        if spoken.value is not None:
            counts.right.append(found == "right")
    return counts


def _heard(ears: Recogniser, sound: Sound) -> tuple[str, tuple[float, ...]]:
    samples = (np.clip(sound, -1, 1) * 32767).astype(np.int16)
    heard = [one for at in range(0, len(samples), BLOCK) for one in ears.feed(samples[at : at + BLOCK])] + ears.finish()
    meant = [understand(one, build.language(), "psi") for one in heard]
    values = tuple(reading.value for one in meant for reading in one.readings)
    if values:
        return "reading", values
    return ("asked" if any(one.kind == "unclear" and one.why != "talk" for one in meant) else "ignored"), ()


def _report(condition: str, made: list[Spoken], without: Counts, with_it: Counts) -> None:
    seconds = sum(len(spoken.sound) for spoken in made) / sounds.RATE
    gained = sum(new and not old for old, new in zip(without.right, with_it.right, strict=True))
    lost = sum(old and not new for old, new in zip(without.right, with_it.right, strict=True))
    for name, counts, only in (("off", without, lost), ("on", with_it, gained)):
        found, talk = counts.readings, counts.talk
        low, high = sounds.wilson(found["right"], found.total())
        print(
            f"{condition:13} {name:4} right {found['right']:3}/{found.total()} [{100 * low:.0f}-{100 * high:.0f} %]"
            f"  wrong {found['wrong']:2}  asked {found['asked']:2}  ignored {found['ignored']:2}"
            f"  only this way {only:2}  |  no reading: taken for one {talk['wrong']:2}/{talk.total()}"
            f"  |  {counts.spent / seconds:.3f} of real time",
            flush=True,
        )
    print(f"{'':13} sign test p = {_sign_test(gained, lost):.3f}; front end alone {_alone(made) / seconds:.4f}")


def _alone(made: list[Spoken]) -> float:
    """Seconds of the processor that the front end takes for all of it."""
    began = time.process_time()
    for spoken in made:
        front, samples = FrontEnd(), (spoken.sound * 32767).astype(np.int16)
        for at in range(0, len(samples), BLOCK):
            front.process(samples[at : at + BLOCK])
    return time.process_time() - began


def _sign_test(more: int, fewer: int) -> float:
    """The chance of a split at least as uneven, were both ways alike (exact McNemar test)."""
    of = more + fewer
    tail = sum(math.comb(of, at) for at in range(min(more, fewer) + 1)) / 2**of
    return min(1.0, 2 * tail)


if __name__ == "__main__":
    main()
