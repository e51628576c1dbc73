"""What may be said and what it means, as one finite automaton.

Law: the acceptor that the recogniser obeys and the meaning of its words are this same value, so nothing can be heard
that has no meaning. An arc carries a word or is empty; tags stand on empty arcs before the words that they belong to;
the words of a number add up. A number goes on as long as it can: "ninety two" is never 90 and 2. Beyond that, `parse`
gives every distinct meaning of a word sequence and does not choose between them.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Final, NamedTuple

from pydantic import ConfigDict, Field

from assistant.core.events import Record

NUMBER: Final = "number"
"""The tag before the first word of a number."""


class Arc(NamedTuple):
    """`word` "": empty. `tag` "": none; only on an empty arc. `adds`: what the word adds to the number that is open, in
    tenths; None outside numbers. `cost`: in nats, -ln of the weight in the grammar."""

    source: int
    target: int
    word: str = ""
    tag: str = ""
    adds: int | None = None
    cost: float = 0.0


class Meant(NamedTuple):
    """One tag of a parsed utterance. `first` and `end`: its words are tokens[first:end] for a number; for any other tag
    `first` is the place of the first word it stands before, and `end` is the same. `tenths`: the value of a number."""

    tag: str
    first: int
    end: int
    tenths: int = 0


class Stand(NamedTuple):
    """How far a word sequence has got: it can end here; it can go on. Neither: it is outside the language."""

    complete: bool
    open: bool


_Meaning = tuple[Meant, ...]


class _Exits(NamedTuple):
    """The ways out of a state. `words`: word -> (the telling ones among the empty arcs before it, its own arc);
    `ends`: the telling empty arcs on each way to a final state."""

    words: Mapping[str, tuple[tuple[tuple[Arc, ...], Arc], ...]]
    ends: tuple[tuple[Arc, ...], ...]


_PARSES_KEPT = 1024


class Language(Record):
    """An automaton whose every state lies on a way from `start` to one of `finals`.

    `stand_ins`: a word that a speech model may lack -> how such a model spells its sound; the arcs hold both.
    `talk_cost`: in nats, what it costs the recogniser to leave the language for everyday talk; `silence_cost`: to say
    that nothing was spoken at all.
    """

    model_config = ConfigDict(ignored_types=(cached_property,))

    start: int
    finals: tuple[int, ...]
    arcs: tuple[Arc, ...]
    stand_ins: Mapping[str, tuple[str, ...]] = Field(default_factory=dict)
    talk_cost: float = 0.0
    silence_cost: float = 0.0

    @property
    def fingerprint(self) -> str:
        """SHA-256 over all of it: another language has another one."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word on an arc."""
        return frozenset(arc.word for arc in self.arcs if arc.word)

    def written(self, text: str) -> str:
        """What was heard, as it is written: stand-ins become the words that they stand for. For showing only."""
        for word, ways in self.stand_ins.items():
            for way in sorted(ways, key=len, reverse=True):
                text = re.sub(rf"\b{re.escape(way)}(?![\w'])", word, text)
        return text

    def parse(self, tokens: Sequence[str]) -> tuple[tuple[Meant, ...], ...]:
        """Every distinct meaning of the whole sequence, as tags in the order of their words; () = outside the language.

        Of meanings with more and with fewer numbers, only those with the fewest count.
        """
        heard = tuple(tokens)
        if heard not in self._known_parses:
            if len(self._known_parses) >= _PARSES_KEPT:
                self._known_parses.clear()
            self._known_parses[heard] = self._parse(heard)
        return self._known_parses[heard]

    def _parse(self, tokens: tuple[str, ...]) -> tuple[tuple[Meant, ...], ...]:
        complete = {
            _longer(meaning, silent, None, len(tokens))
            for state, meanings in self._walk(tokens).items()
            for silent in self._exits(state).ends
            for meaning in meanings
        }
        found: dict[tuple[tuple[str, int], ...], _Meaning] = {}
        for meaning in sorted(_fewest_numbers(complete)):
            found.setdefault(tuple((meant.tag, meant.tenths) for meant in meaning), meaning)
        return tuple(found.values())

    def stand(self, tokens: Sequence[str]) -> Stand:
        """Whether the sequence is complete, and whether it can go on."""
        exits = [self._exits(state) for state in self._walk(tokens)]
        return Stand(any(ways.ends for ways in exits), any(ways.words for ways in exits))

    def next_words(self, tokens: Sequence[str]) -> frozenset[str]:
        """Every word that may follow the sequence; nothing when it is outside the language."""
        return frozenset(word for state in self._walk(tokens) for word in self._exits(state).words)

    def begun(self, tokens: Sequence[str]) -> frozenset[Meant]:
        """All that the sequence may have begun to say; nothing when it is outside the language."""
        return frozenset(meant for found in self._walk(tokens).values() for meaning in found for meant in meaning)

    def _walk(self, tokens: Sequence[str]) -> dict[int, set[_Meaning]]:
        """Every state that the tokens lead to, with the meanings gathered on the way."""
        here: dict[int, set[_Meaning]] = {self.start: {()}}
        for place, token in enumerate(tokens):
            there: dict[int, set[_Meaning]] = {}
            for state, meanings in here.items():
                for silent, arc in self._exits(state).words.get(token, ()):
                    gathered = there.setdefault(arc.target, set())
                    gathered.update(_longer(meaning, silent, arc, place) for meaning in meanings)
            # What follows depends on the state alone, so a meaning with more numbers than another one is out for good.
            here = {state: _fewest_numbers(meanings) for state, meanings in there.items()}
        return here

    def _exits(self, state: int) -> _Exits:
        if state not in self._known_exits:
            self._known_exits[state] = self._find_exits(state)
        return self._known_exits[state]

    @cached_property
    def _known_parses(self) -> dict[tuple[str, ...], tuple[tuple[Meant, ...], ...]]:
        """A check says the same few things over and over, and so does the replay of thousands of them."""
        return {}

    @cached_property
    def _known_exits(self) -> dict[int, _Exits]:
        return {}

    @cached_property
    def _by_source(self) -> Mapping[int, tuple[Arc, ...]]:
        groups: dict[int, list[Arc]] = {}
        for arc in self.arcs:
            groups.setdefault(arc.source, []).append(arc)
        return {state: tuple(group) for state, group in groups.items()}

    def _find_exits(self, state: int) -> _Exits:
        words: dict[str, list[tuple[tuple[Arc, ...], Arc]]] = {}
        ends: list[tuple[Arc, ...]] = []
        todo: list[tuple[int, tuple[Arc, ...]]] = [(state, ())]
        seen = set(todo)
        while todo:
            here, silent = todo.pop()
            if here in self.finals:
                ends.append(silent)
            for arc in self._by_source.get(here, ()):
                step = (arc.target, (*silent, arc) if arc.tag or arc.adds is not None else silent)
                if arc.word:
                    words.setdefault(arc.word, []).append((silent, arc))
                elif step not in seen:
                    seen.add(step)
                    todo.append(step)
        return _Exits({word: tuple(ways) for word, ways in words.items()}, tuple(ends))


def _fewest_numbers(meanings: set[_Meaning]) -> set[_Meaning]:
    if len(meanings) < 2:
        return meanings
    counted = [(sum(meant.tag == NUMBER for meant in meaning), meaning) for meaning in meanings]
    fewest = min(count for count, _ in counted)
    return {meaning for count, meaning in counted if count == fewest}


def _longer(meaning: _Meaning, silent: tuple[Arc, ...], arc: Arc | None, place: int) -> _Meaning:
    """`meaning` after the empty arcs `silent` and then `arc`, whose word is the token at `place`."""
    for step in silent:
        meaning = (*meaning, Meant(step.tag, place, place)) if step.tag else _added(meaning, step, place)
    return meaning if arc is None or arc.adds is None else _added(meaning, arc, place + 1)


def _added(meaning: _Meaning, arc: Arc, end: int) -> _Meaning:
    """`meaning` with its last number, which is still open, grown by what the arc adds."""
    *before, number = meaning
    return (*before, number._replace(end=end, tenths=number.tenths + (arc.adds or 0)))
