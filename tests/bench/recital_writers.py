"""Who has put a talk-through into their own words, and what for: to be learnt from, to choose on, or only measured.

Law: nobody who wrote for one of these has read what others wrote. So the plainest sentences stand with several of
them, and `unseen` leaves those out.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from tests.bench.recital_fresh import fresh

Corpus = Mapping[str, Mapping[str, list[str]]]
CORPUS = Path(__file__).parent / "recital_corpus"
LEARNT = (
    *("development", "fresh", "drivers", "plain", "commentary", "trade", "schools", "candidates", "crowd", "avoiders"),
    *("academy", "roadtest", "patterns", "nightshift", "learners", "convoy", "scrapyard", "interpreter", "lecturer"),
    *("apprentice", "opposites", "storyteller"),
)
"""The paraphrases that anything may be tuned on or learnt from; each by another writer. `nightshift` and those after it
deny most, also actions and rules without figures."""
UNLEARNT = ("exacting", "newcomers", "trio", "yard", "dispatch", "pitfalls", "mainstreet")
TUNED_ON = (*LEARNT, *UNLEARNT)
"""Those of UNLEARNT are not learnt from: what is decided by numbers is chosen on them."""
PARTIAL = (
    *("rules/fragments", "rules/aloud", "rules/exam", "rules/quiz", "rules/nightbus", "rules/radio", "rules/handbook"),
    *("rules/newcomer", "rules/mechanic", "rules/country", "rules/teacher", "rules/rhythm", "rules/nervous"),
    *("rules/prairie", "rules/tolerances", "rules/plain", "rules/logging", "rules/polite", "broad/trucker"),
    *("broad/thinker", "broad/examinee", "broad/second", "broad/workshop", "broad/coach", "broad/everyday"),
    *("broad/veteran", "broad/tanker", "broad/courier", "broad/roadtrain", "broad/cheeky"),
    *("rules/terminal", "rules/library", "rules/slang", "rules/abroad", "rules/ferry", "rules/quarry", "rules/dozen"),
    *("rules/drayman", "broad/grain", "broad/municipal", "broad/twelve", "broad/rescue", "rules/usual"),
)
"""Writers who looked for as many ways as they could to say one thing, or to deny it: limits, verdicts and readings, or
all the rest. Learnt from, but no talk can be made of any of them."""
FINAL = (
    *("final", "many", "trio-aside", "route", "winter", "harbour", "applicant", "refuse", "fairground", "orchard"),
    "depot",
)
"""Only measured. `trio-aside` is the other half of the sentences of `trio`."""


def corpus(half: str, seed: int = 0) -> Corpus:
    """`half`: "development", "final", or "fresh": made from its grammar by `seed`."""
    if half == "fresh":
        return fresh(CORPUS, np.random.default_rng((7919, seed)))
    return tomllib.loads((CORPUS / f"{half}.toml").read_text(encoding="utf-8"))


def unseen(half: str) -> Corpus:
    """What a writer has that no writer has who was learnt from; where nothing is left of a list, all of it."""
    taught = _taught()
    return {
        room: {key: [way for way in ways if way not in taught] or ways for key, ways in lists.items()}
        for room, lists in corpus(half).items()
    }


@cache
def _taught() -> frozenset[str]:
    lists = (ways for name in (*LEARNT, *PARTIAL) for rooms in corpus(name).values() for ways in rooms.values())
    return frozenset(way for ways in lists for way in ways)
