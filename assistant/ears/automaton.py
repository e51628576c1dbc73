"""Rules of a grammar laid out as the arcs of one automaton.

Law: a rule is laid anew at each place that names it, so there is no recursion, and the way through the arcs is the way
through the rules. Costs are what the weights say: a way through a choice costs -ln of its share, so the costs of all
utterances are those of one stochastic grammar, and can be weighed against the costs of everyday words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from assistant.core.language import NUMBER, Arc
from assistant.core.numbers import Column, Form, Part
from assistant.core.trouble import BadInput
from assistant.ears import jsgf

NUMBER_COST = 5.0
"""What a number costs the recogniser, in nats, whatever its value and spelling: as if 150 were equally likely. A cost
for each word of it was tried and only lost readings."""


class Builder:
    """Lays the arcs of an expansion from a state to `target`, or to a new state, and gives the state where they end.

    `numbers`: the rules that no file has, by qualified name. `reached`: the rules laid so far.
    """

    def __init__(
        self,
        grammars: Mapping[str, jsgf.Grammar],
        stand_ins: Mapping[str, tuple[str, ...]],
        numbers: Mapping[str, tuple[Part, ...]],
    ) -> None:
        self.arcs: list[Arc] = []
        self.reached: set[str] = set()
        self._grammars = grammars
        self._stand_ins = stand_ins
        self._numbers = numbers
        self._states = 1
        self._open_rules: list[str] = []

    def rule(self, name: str, source: int, target: int | None = None) -> int:
        """`name`: grammar.rule. Raises BadInput when it is nowhere, or names itself on the way."""
        if name in self._numbers:
            return self._number(self._numbers[name], source, target)
        home, _, rule = name.partition(".")
        if home not in self._grammars or rule not in self._grammars[home].rules:
            raise BadInput(f"No grammar file defines <{name}>{self._where()}. Write the rule, or correct the name.")
        if name in self._open_rules:
            raise BadInput(f"The rule <{name}> names itself{self._where()}. Use * or + to repeat something.")
        self._open_rules.append(name)
        self.reached.add(name)
        end = self._lay(self._grammars[home].rules[rule], source, target)
        self._open_rules.pop()
        return end

    def _where(self) -> str:
        return f", which <{self._open_rules[-1]}> names" if self._open_rules else ""

    def _state(self) -> int:
        self._states += 1
        return self._states - 1

    def _arc(
        self, source: int, target: int | None, word: str = "", tag: str = "", adds: int | None = None, cost: float = 0.0
    ) -> int:
        target = self._state() if target is None else target
        self.arcs.append(Arc(source, target, word, tag, adds, cost))
        return target

    def _lay(self, expansion: jsgf.Expansion, source: int, target: int | None) -> int:
        match expansion:
            case jsgf.Word(text):
                return self._word(text.lower(), source, target)
            case jsgf.Reference(rule):
                return self.rule(self._qualified(rule), source, target)
            case jsgf.Sequence(parts):
                for part in parts[:-1]:
                    source = self._lay(part, source, None)
                return self._lay(parts[-1], source, target) if parts else self._arc(source, target)
            case jsgf.Choice(ways):
                return self._choice(ways, source, target)
            case jsgf.Repeat(what, or_never):
                return self._repeat(what, or_never, source, target)
            case jsgf.Tagged(tag, what):
                return self._lay(what, self._arc(source, None, tag=tag), target)

    def _qualified(self, rule: str) -> str:
        """A rule's full name, as the file sees it whose rule is being laid. Raises BadInput for one not imported."""
        home = self._open_rules[-1].partition(".")[0]
        if "." not in rule:
            return f"{home}.{rule}"
        imports = self._grammars[home].imports
        if rule not in imports and rule.rpartition(".")[0] + ".*" not in imports:
            raise BadInput(f"<{self._open_rules[-1]}> names <{rule}>, but {home}.jsgf does not import it.")
        there, _, name = rule.rpartition(".")
        if there in self._grammars and name not in self._grammars[there].public:
            raise BadInput(f"<{self._open_rules[-1]}> names <{rule}>, which is not public. Make it public, or move it.")
        return rule

    def _word(self, word: str, source: int, target: int | None) -> int:
        target = self._arc(source, target, word)
        for way in self._stand_ins.get(word, ()):
            *before, last = way.split()
            place = source
            for part in before:
                place = self._arc(place, None, part)
            self._arc(place, target, last)
        return target

    def _choice(self, ways: tuple[tuple[float, jsgf.Expansion], ...], source: int, target: int | None) -> int:
        """Weights are relative (JSGF 1.0, 4.3.2): a way costs -ln of its share."""
        target = self._state() if target is None else target
        total = sum(weight for weight, _ in ways)
        for weight, way in ways:
            if weight <= 0:
                raise BadInput(f"A weight in <{self._open_rules[-1]}> is not above zero. Leave the alternative out.")
            start = source if weight == total else self._arc(source, None, cost=math.log(total / weight))
            self._lay(way, start, target)
        return target

    def _repeat(self, what: jsgf.Expansion, or_never: bool, source: int, target: int | None) -> int:
        before, laid = self._arc(source, None), len(self.arcs)
        after = self._lay(what, before, None)
        if after in _silently_reached(before, self.arcs[laid:]):
            raise BadInput(f"<{self._open_rules[-1]}> repeats what may be nothing. Put * or + after words only.")
        self._arc(after, before)
        return self._arc(before if or_never else after, target)

    def _number(self, parts: tuple[Part, ...], source: int, target: int | None) -> int:
        place = self._arc(source, None, tag=NUMBER, cost=NUMBER_COST)
        for part in parts:
            after = self._state() if part is not parts[-1] or target is None else target
            for form in part:
                self._form(form, place, after)
            place = after
        return place

    def _form(self, form: Form, source: int, target: int) -> None:
        nothing: Column = {"": 0}
        *columns, last = form or (nothing,)
        for column in columns:
            source = self._column(column, source, self._state())
        self._column(last, source, target)

    def _column(self, column: Column, source: int, target: int) -> int:
        for word, tenths in column.items():
            self._arc(source, target, word, adds=tenths)
        return target


def _silently_reached(source: int, arcs: Sequence[Arc]) -> set[int]:
    """`source` and the states that empty arcs lead to."""
    reached, todo = {source}, [source]
    while todo:
        here = todo.pop()
        more = {arc.target for arc in arcs if arc.source == here and not arc.word} - reached
        reached |= more
        todo.extend(more)
    return reached
