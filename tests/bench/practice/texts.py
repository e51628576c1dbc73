"""What is said to the speller while it learns: readings above all, anything else of the language, other talk."""

from __future__ import annotations

import math
import re
from functools import cache

from assistant.cli import build
from assistant.core.events import Unit
from assistant.core.language import Arc
from tests.bench.hearing_speech import number, one_by_one
from tests.bench.hearing_texts import REPAIRS
from tests.bench.recital_learn import expected
from tests.bench.sounds import Rng

FRAMES = (
    *("{}",) * 4,
    *("{} psi", "primary {} secondary {}") * 2,
    *REPAIRS,
    "{} pounds",
    "{} on the primary",
    "{} on the secondary",
    "primary {}",
    "secondary {}",
    "primary at {}",
    "secondary is at {}",
    "front {}",
    "rear {}",
    "front tank {}",
    "rear tank {}",
    "it's at {}",
    "it's {}",
    "it reads {}",
    "reading {}",
    "the gauge reads {}",
    "gauge says {}",
    "needle is at {}",
    "i have {}",
    "i've got {}",
    "now {}",
    "okay {}",
    "about {}",
    "we're at {}",
    "it dropped to {}",
    "cut out at {}",
    "cut in at {}",
    "start {}",
    "{} and {}",
    "both {}",
    "both at {}",
    "front {} rear {}",
    "no {}",
    "correction {}",
    "{} no make that {}",
)
_UNITS: tuple[Unit, ...] = ("psi", "psi", "psi", "kPa")
_LONGEST = 9  # words
_SHORTEST, _LONGEST_TALK = 8, 80  # letters
_END_SHARE = 0.5  # where a text may end, how likely that is against its likeliest word


def text(rng: Rng) -> str:
    """One utterance in small letters."""
    chance = rng.random()
    if chance < 0.50:
        frame = str(rng.choice(FRAMES)) if rng.random() < 0.7 else "{}"
        return frame.format(*(number(rng)[1] for _ in range(frame.count("{}"))))
    if chance < 0.58:
        return one_by_one(int(rng.integers(0, 200)))
    if chance < 0.75:
        return _of_the_language(rng)
    return re.sub(r"\{n\}", lambda _: number(rng)[1], str(rng.choice(_talk())))


def _of_the_language(rng: Rng) -> str:
    """A random way through the automaton, by its costs."""
    arcs, start, finals = _exits(str(rng.choice(_UNITS)))
    while True:
        words, state = [], start
        while len(words) <= _LONGEST:
            ways = arcs.get(state, [])
            chances = [math.exp(-arc.cost) for arc in ways]
            if state in finals:
                chances.append(_END_SHARE * max(chances, default=1.0))
            place = int(rng.choice(len(chances), p=[chance / sum(chances) for chance in chances]))
            if place == len(ways):
                break
            state = ways[place].target
            words += [ways[place].word] if ways[place].word else []
        if 0 < len(words) <= _LONGEST:
            return " ".join(words)


@cache
def _exits(unit: Unit) -> tuple[dict[int, list[Arc]], int, frozenset[int]]:
    language = build.language(unit)
    arcs: dict[int, list[Arc]] = {}
    for arc in language.arcs:
        arcs.setdefault(arc.source, []).append(arc)
    return arcs, language.start, frozenset(language.finals)


@cache
def _talk() -> tuple[str, ...]:
    """Sentences about the brake check that are no part of the language, from the writers of the recitals that may be
    learnt from, with other figures each time."""
    return tuple(way for way in expected() if _SHORTEST <= len(way) <= _LONGEST_TALK)
