"""What may be said and what it means, as one finite automaton.

Law: the acceptor that the recogniser obeys and the meaning of its words are this same value, so nothing can be heard that
has no meaning. An arc carries a word or is empty; tags stand on empty arcs before the words that they belong to; the words
of a number add up. `parse` gives every distinct meaning of a word sequence and never chooses between them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Final, NamedTuple

from pydantic import ConfigDict

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


class Language(Record):
    """An automaton whose every state lies on a way from `start` to one of `finals`.

    `stand_ins`: a word that a speech model may lack -> how such a model spells its sound; the arcs hold both. `talk_cost`:
    in nats, what it costs the recogniser to leave the language for everyday talk.
    """

    model_config = ConfigDict(ignored_types=(cached_property,))

    start: int
    finals: frozenset[int]
    arcs: tuple[Arc, ...]
    stand_ins: dict[str, tuple[str, ...]] = {}
    talk_cost: float = 0.0

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 over all of it: another language has another one."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word on an arc."""
        return frozenset(arc.word for arc in self.arcs if arc.word)

    def parse(self, tokens: Sequence[str]) -> tuple[tuple[Meant, ...], ...]:
        """Every distinct meaning of the whole sequence, as tags in the order of their words; () = outside the language."""
        found: dict[tuple[tuple[str, int], ...], _Meaning] = {}
        for state, meanings in self._walk(tokens).items():
            if state in self.finals:
                for meaning in meanings:
                    found.setdefault(tuple((meant.tag, meant.tenths) for meant in meaning), meaning)
        return tuple(found.values())

    def stand(self, tokens: Sequence[str]) -> Stand:
        """Whether the sequence is complete, and whether it can go on."""
        states = self._walk(tokens)
        return Stand(any(state in self.finals for state in states), any(self._by_word.get(state) for state in states))

    @cached_property
    def _empty_arcs(self) -> Mapping[int, tuple[Arc, ...]]:
        return _grouped(arc for arc in self.arcs if not arc.word)

    @cached_property
    def _by_word(self) -> Mapping[int, Mapping[str, tuple[Arc, ...]]]:
        by_state = _grouped(arc for arc in self.arcs if arc.word)
        return {
            state: {word: tuple(arc for arc in arcs if arc.word == word) for word in {arc.word for arc in arcs}}
            for state, arcs in by_state.items()
        }

    def _walk(self, tokens: Sequence[str]) -> dict[int, set[_Meaning]]:
        """Every state that the tokens lead to, with the meanings gathered on the way."""
        here: dict[int, set[_Meaning]] = self._closed({self.start: {()}}, 0)
        for place, token in enumerate(tokens):
            there: dict[int, set[_Meaning]] = {}
            for state, meanings in here.items():
                for arc in self._by_word.get(state, {}).get(token, ()):
                    added = {_added(meaning, arc, place) for meaning in meanings}
                    there.setdefault(arc.target, set()).update(added)
            here = self._closed(there, place + 1)
        return here

    def _closed(self, states: dict[int, set[_Meaning]], place: int) -> dict[int, set[_Meaning]]:
        """`states` and all that empty arcs lead to from them, before the token at `place`."""
        closed: dict[int, set[_Meaning]] = {state: set(meanings) for state, meanings in states.items()}
        todo = [(state, meaning) for state, meanings in states.items() for meaning in meanings]
        while todo:
            state, meaning = todo.pop()
            for arc in self._empty_arcs.get(state, ()):
                longer = (*meaning, Meant(arc.tag, place, place)) if arc.tag else _added(meaning, arc, place - 1)
                reached = closed.setdefault(arc.target, set())
                if longer not in reached:
                    reached.add(longer)
                    todo.append((arc.target, longer))
        return closed


def _added(meaning: _Meaning, arc: Arc, place: int) -> _Meaning:
    """`meaning` after an arc whose word (if it has one) is the token at `place`."""
    if arc.adds is None:
        return meaning
    *before, number = meaning
    return (*before, number._replace(end=place + 1, tenths=number.tenths + arc.adds))


def _grouped(arcs: Iterable[Arc]) -> dict[int, tuple[Arc, ...]]:
    groups: dict[int, list[Arc]] = {}
    for arc in arcs:
        groups.setdefault(arc.source, []).append(arc)
    return {state: tuple(group) for state, group in groups.items()}
