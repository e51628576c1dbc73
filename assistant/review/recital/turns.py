"""What a talk-through is likely to hold, as sentences in our own wording and in that of many writers, for ears that
expect it.

Law: no limit stands in it. Every number is as likely as every other, and with each statement comes its denial, so that
expecting the trade never helps a number, and hides no "not".
"""

from __future__ import annotations

import gzip
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path

from assistant.core.events import Record
from assistant.core.numbers import USUAL, spellings

PARAPHRASES = Path(__file__).with_name("paraphrases.txt.gz")
"""What writers have put into their own words, {n} for a number; `tests/bench/recital_learn.py` makes it."""
_SLOT = re.compile(r"\{(\w+)\}")
_EACH = 60  # sentences from one turn; enough that every word of every slot comes up
_NUMBERS_EACH = 3  # from one paraphrase with a number
_STEPS = (1, 7, 11, 13, 17, 19)  # of the slots of one turn through their lists: they share no factor with each other


class Turns(Record):
    """All of turns.toml."""

    slots: dict[str, tuple[str, ...]]
    turns: dict[str, tuple[str, ...]]


@cache
def turns() -> tuple[tuple[str, ...], ...]:
    """The sentences, as words; always the same ones."""
    text = files("assistant.review.recital").joinpath("turns.toml").read_text(encoding="utf-8")
    read = Turns.model_validate(tomllib.loads(text), strict=False)
    slots = {**read.slots, "n": _numbers()}
    ours = [(turn, _EACH) for part in read.turns.values() for turn in part]
    theirs = gzip.decompress(PARAPHRASES.read_bytes()).decode().splitlines()
    every = [*ours, *((turn, _NUMBERS_EACH if "{" in turn else 1) for turn in theirs)]
    return tuple(
        tuple(sentence.split())
        for at, (turn, count) in enumerate(every)
        for sentence in _sentences(turn, slots, range(at * count, (at + 1) * count))
    )


def _numbers() -> tuple[str, ...]:
    """Every usual spelling of a whole number."""
    return tuple(sorted(" ".join(words) for words, _ in spellings(USUAL["psi"][:1]) if words))


def _sentences(turn: str, slots: Mapping[str, Sequence[str]], numbers: range) -> Iterator[str]:
    pieces = _SLOT.split(turn)  # text, slot, text, slot, ..., text
    for number in numbers:
        words = [
            slots[piece][number * _STEPS[at // 2] % len(slots[piece])] if at % 2 else piece
            for at, piece in enumerate(pieces)
        ]
        yield "".join(words)
