"""The wordings of a talk-through, read from wordings.toml, and where their concepts stand in a sentence."""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache, lru_cache
from itertools import pairwise, product
from pathlib import Path
from typing import NamedTuple

from assistant.core.events import Record, TestId
from assistant.core.plan import Fact
from assistant.review.recital.likeness import likest
from assistant.review.recital.negation import is_denial

FILE = Path(__file__).parent / "wordings.toml"
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
    failing: Ways = ()


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
    return Wordings.model_validate(tomllib.loads(FILE.read_text(encoding="utf-8")), strict=False)


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


Entry = tuple[tuple[str, ...], frozenset[str]]


@cache
def _lexicon() -> Mapping[str, tuple[Entry, ...]]:
    """First word -> the entries that begin with it, stemmed, with the concepts they stand for."""
    found: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for concept, entries in wordings().concepts.items():
        for entry in entries:
            found[tuple(stem(word) for word in entry.split())].add(concept)
    return _by_first(found)


@cache
def _exact() -> Mapping[str, tuple[Entry, ...]]:
    """The same for what counts only in the form that stands there."""
    found: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for concept, entries in wordings().exact.items():
        for entry in entries:
            found[tuple(entry.split())].add(concept)
    return _by_first(found)


def _by_first(entries: Mapping[tuple[str, ...], set[str]]) -> Mapping[str, tuple[Entry, ...]]:
    found: dict[str, tuple[Entry, ...]] = defaultdict(tuple)
    for words, concepts in entries.items():
        found[words[0]] += ((words, frozenset(concepts)),)
    return found


def _entries() -> Iterator[Entry]:
    return (entry for entries in _lexicon().values() for entry in entries)


@cache
def _single() -> tuple[tuple[str, frozenset[str]], ...]:
    return tuple((words[0], means) for words, means in _entries() if len(words) == 1 and len(words[0]) >= 4)


@cache
def _known() -> frozenset[str]:
    return frozenset(word for words, _ in _entries() for word in words)


@cache
def meant(word: str) -> str:
    """The stem of the word, or of the word of the wordings that it sounds like."""
    root = stem(word)
    if root in _known() or is_denial(word):
        return root
    return likest(root, _single()) or root


@lru_cache(maxsize=4096)
def concepts_in(words: tuple[str, ...]) -> Found:
    """Where each concept stands in a sentence. A word that only sounds like one counts by itself, never in a phrase."""
    found: dict[str, list[Hit]] = defaultdict(list)
    exact = tuple(map(stem, words))
    for at, word in enumerate(words):
        told = [(exact, _lexicon().get(exact[at], ())), (words, _exact().get(word, ()))]
        if meant(word) != exact[at]:
            alike = tuple(entry for entry in _lexicon().get(meant(word), ()) if len(entry[0]) == 1)
            told.append(((*exact[:at], meant(word), *exact[at + 1 :]), alike))
        for looked, entries in told:
            for entry, concepts in entries:
                if tuple(looked[at : at + len(entry)]) == entry:
                    for concept in concepts:
                        found[concept].append(Hit(at, at + len(entry)))
    return found


def statements(ways: Ways, found: Found, reach: int = REACH) -> list[frozenset[int]]:
    """Every place where one of the ways is said: the words that it is said by, the closest first."""
    made = set()
    for way in ways:
        for parts in product(*(_hits(concept, found) for concept in way)):
            hits = [hit for part in parts for hit in part]
            places = frozenset(at for hit in hits for at in range(*hit))
            if len(places) >= len(hits) and _apart(hits) and max(places) - min(places) <= reach:
                made.add(places)
    return sorted(made, key=lambda places: (max(places) - min(places), min(places)))


def _hits(concept: str, found: Found) -> Sequence[tuple[Hit, ...]]:
    """Where a concept stands; of "a+b" both, the second right behind the first or one word later."""
    first, _, second = concept.partition("+")
    if not second:
        return [(hit,) for hit in found.get(concept, ())]
    pairs = product(found.get(first, ()), found.get(second, ()))
    return [pair for pair in pairs if 0 <= pair[1].first - pair[0].end <= 1]


def _apart(hits: Iterable[Hit]) -> bool:
    ordered = sorted(hits)
    return all(one.end <= other.first for one, other in pairwise(ordered))
