"""The wordings of a talk-through, read from wordings.toml, and where their concepts stand in a sentence."""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from itertools import pairwise, product
from typing import NamedTuple

from assistant.core.events import Record, TestId
from assistant.core.plan import Fact
from assistant.review.recital.likeness import likest
from assistant.review.recital.negation import is_denial

Ways = tuple[tuple[str, ...], ...]
REACH = 8  # words between the first and the last of one statement
CLOSE = 3


class FactWording(Record):
    ways: Ways
    close: Ways = ()
    unless: tuple[str, ...] = ()


class TestWording(Record):
    __test__ = False

    names: Ways
    unless: tuple[str, ...] = ()
    action: Ways
    limit: Ways = ()
    reading: Ways = ()


class JudgementWording(Record):
    good: Ways
    bad: Ways


class OrderWording(Record):
    before: tuple[tuple[TestId, TestId], ...]


class Wordings(Record):
    """All of wordings.toml."""

    concepts: dict[str, tuple[str, ...]]
    exact: dict[str, tuple[str, ...]]
    facts: dict[Fact, FactWording]
    tests: dict[TestId, TestWording]
    judgement: JudgementWording
    order: OrderWording
    asked: dict[str, tuple[str, ...]]


class Hit(NamedTuple):
    """A concept stands at words[first:end]."""

    first: int
    end: int


Found = Mapping[str, Sequence[Hit]]


@cache
def wordings() -> Wordings:
    """The wordings that come with the program."""
    text = files("assistant.review.recital").joinpath("wordings.toml").read_text(encoding="utf-8")
    return Wordings.model_validate(tomllib.loads(text), strict=False)


@cache
def stem(word: str) -> str:
    """A word without its ending: chocks, chocked, chocking -> chock."""
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            word = word[: -len(ending)]
            break
    if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "aeiouls":
        word = word[:-1]
    return re.sub(r"[ei]$|y$", "", word) if len(word) > 4 else word


@cache
def _lexicon() -> Mapping[tuple[str, ...], frozenset[str]]:
    """Stemmed words of each entry -> the concepts it stands for."""
    found: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for concept, entries in wordings().concepts.items():
        for entry in entries:
            found[tuple(stem(word) for word in entry.split())].add(concept)
    return {words: frozenset(concepts) for words, concepts in found.items()}


@cache
def _single() -> tuple[tuple[str, frozenset[str]], ...]:
    return tuple((words[0], means) for words, means in _lexicon().items() if len(words) == 1 and len(words[0]) >= 4)


@cache
def _known() -> frozenset[str]:
    return frozenset(word for words in _lexicon() for word in words)


@cache
def meant(word: str) -> str:
    """The stem of the word, or of the word of the wordings that it sounds like."""
    root = stem(word)
    if root in _known() or is_denial(word):
        return root
    return likest(root, _single()) or root


def concepts_in(words: Sequence[str]) -> Found:
    """Where each concept stands in a sentence."""
    roots = [meant(word) for word in words]
    exact = [stem(word) for word in words]
    found: dict[str, list[Hit]] = defaultdict(list)
    for entry, concepts in _lexicon().items():
        looked = roots if len(entry) == 1 else exact
        for at in range(len(words) - len(entry) + 1):
            if tuple(looked[at : at + len(entry)]) == entry:
                for concept in concepts:
                    found[concept].append(Hit(at, at + len(entry)))
    for concept, phrases in wordings().exact.items():
        for phrase in map(str.split, phrases):
            places = range(len(words) - len(phrase) + 1)
            found[concept] += [
                Hit(at, at + len(phrase)) for at in places if list(words[at : at + len(phrase)]) == phrase
            ]
    return found


def statements(ways: Ways, found: Found, reach: int = REACH) -> list[frozenset[int]]:
    """Every place where one of the ways is said: the words that it is said by, the closest first."""
    made = set()
    for way in ways:
        for hits in product(*(found.get(concept, ()) for concept in way)):
            places = frozenset(at for hit in hits for at in range(*hit))
            if len(places) >= sum(1 for _ in hits) and _apart(hits) and max(places) - min(places) <= reach:
                made.add(places)
    return sorted(made, key=lambda places: (max(places) - min(places), min(places)))


def _apart(hits: Iterable[Hit]) -> bool:
    ordered = sorted(hits)
    return all(one.end <= other.first for one, other in pairwise(ordered))
