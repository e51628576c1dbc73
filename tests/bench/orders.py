"""How well spoken orders to the simulated vehicle are heard, and whether anything else is taken for one.

`python -m tests.bench.orders --each 60 --noise diesel:10`: orders from orders.toml with and without little words, and
reports, commands and readings of a check that are none, each by another voice. Counts: the order was carried
out / another one was / none was; of the others, how many moved the vehicle. A fresh seed each run, unless one is given.
"""

from __future__ import annotations

import argparse
import secrets
from collections import Counter
from typing import Any

import numpy as np

from assistant.cab.spoken import noise_of
from assistant.cli import build
from assistant.core.events import Heard
from assistant.ears import model
from assistant.vehicle.orders import order, turns
from tests.bench import sounds
from tests.bench.hearing_speech import usual_spellings, voices
from tests.bench.shares import share

OTHER = (
    "engine running",
    "engine is off",
    "brakes are set",
    "brakes released",
    "yes",
    "no",
    "done",
    "it held",
    "it pulls left",
    "light and buzzer on",
    "start",
    "mark",
    "stand by",
    "repeat",
    "go back",
    "continue",
    "scratch that",
)


class _Hands:
    """Notes what an order moves, instead of moving it."""

    def __init__(self) -> None:
        self.moved: list[tuple[str, str | float]] = []
        self.spec = self.engine = self.cab = self
        self.operating_rpm = 0.7
        self.throttle_for = float

    def set(self, control: str, value: str | float) -> None:
        self.moved.append((control, value))


def moves(text: str) -> list[Any] | None:
    """What an order moves, and the seconds between; None: it is no order."""
    hands = _Hands()
    work = order(text, hands)  # type: ignore[arg-type]
    return None if work is None else [*work, *hands.moved]


def main() -> None:
    """Print the counts."""
    given = _arguments()
    rng = np.random.default_rng(given.seed)
    noise, ratio = noise_of(given.noise) if given.noise else (None, 0.0)
    known = [voice for voice in voices(given.voices) if voice != sounds.RECORDED]  # it lacks most of the words
    print(f"seed {given.seed}, noise {given.noise or 'none'}, {len(known)} voices")
    recogniser = build.recogniser(model.find(), orders=True)
    counts: Counter[str] = Counter()
    for number in range(2 * given.each):
        is_order = number % 2 == 0
        said = _an_order(rng) if is_order else _another(rng)
        sound = sounds.in_noise(sounds.speak(known[number // 2 % len(known)], said, rng), noise, ratio, rng)
        words = " ".join(map(_words, sounds.hear(recogniser, sound)))
        wanted, done = moves(said), moves(words)
        found = "right" if done == wanted else "none" if done is None else "another"
        counts[f"{'order' if is_order else 'other'} {found}"] += 1
        if given.errors and found != "right":
            print(f"   {said!r} heard as {words!r}")
    for kind, label in (("order right", "carried out"), ("order another", "another one"), ("order none", "none")):
        print(f"orders, {label}:", share(counts[kind], given.each))
    print("other words that moved the vehicle:", share(counts["other another"], given.each))


def _an_order(rng: np.random.Generator) -> str:
    known = turns()
    return " ".join(known[int(rng.integers(len(known)))])


def _another(rng: np.random.Generator) -> str:
    if rng.random() < 0.5:
        return str(rng.choice(OTHER))
    numbers = [str(rng.choice(usual_spellings())) for _ in range(2)]
    return str(rng.choice(["{0}", "primary {0} secondary {1}", "{0} psi", "sorry {0}", "the needle is at {0}"])).format(
        *numbers
    )


def _words(heard: Heard) -> str:
    return build.language().written(heard.said(freely=True))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", type=int, default=60)
    parser.add_argument("--noise", help="as diesel:10")
    parser.add_argument("--voices", choices=("tuning", "held-out", "all"), default="tuning")
    parser.add_argument("--seed", type=int, default=secrets.randbelow(1_000_000))
    parser.add_argument("--errors", action="store_true", help="show what was heard otherwise")
    return parser.parse_args()


if __name__ == "__main__":
    main()
