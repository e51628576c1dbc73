"""The Java Speech Grammar Format (JSGF 1.0, W3C Note of 5 June 2000) as a tree.

Law: this module knows the format and nothing of what the words mean. Read are the header, imports, rules, sequences,
alternatives with weights, groups, options, * and +, tags, <NULL>, comments, and `@example` lines in them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from lark import Lark, Token, Transformer
from lark.exceptions import UnexpectedInput

from assistant.core.trouble import BadInput

_SYNTAX = r"""
start: "#JSGF" VERSION (TOKEN)* ";" "grammar" TOKEN ";" use* rule+
use: "import" "<" TOKEN ["*"] ">" ";"
rule: [PUBLIC] "<" TOKEN ">" "=" choice ";"
choice: weighted ("|" weighted)*
weighted: [WEIGHT] sequence
sequence: tagged+
tagged: repeated TAG*
repeated: atom [REPEAT]
?atom: TOKEN -> word
     | "<" TOKEN ">" -> reference
     | "(" choice ")"
     | "[" choice "]" -> option
VERSION: /V\d+\.\d+/
PUBLIC.2: "public"
WEIGHT: /\/\s*\d*\.?\d+\s*\//
REPEAT: "*" | "+"
TAG: /\{[^{}]*\}/
TOKEN: /[^\s;=|*+<>()\[\]{}\/"#]+/
%ignore /\s+/
%ignore /\/\/[^\n]*/
%ignore /\/\*(.|\n)*?\*\//
"""


@dataclass(frozen=True)
class Word:
    text: str


@dataclass(frozen=True)
class Reference:
    """A rule by its name as written: `item`, `readings.item`."""

    rule: str


@dataclass(frozen=True)
class Sequence:
    """All parts, one after the other; no parts: nothing is said."""

    parts: tuple[Expansion, ...]


@dataclass(frozen=True)
class Choice:
    """One of these, with relative weights (1 where none is written)."""

    ways: tuple[tuple[float, Expansion], ...]


@dataclass(frozen=True)
class Repeat:
    """Once or more often; `or_never`: not at all, too."""

    what: Expansion
    or_never: bool


@dataclass(frozen=True)
class Tagged:
    tag: str
    what: Expansion


Expansion = Word | Reference | Sequence | Choice | Repeat | Tagged


@dataclass(frozen=True)
class Grammar:
    """One file. `imports`: qualified rule names, or "name.*". `examples`: the phrases of its `@example` lines."""

    name: str
    imports: tuple[str, ...]
    rules: dict[str, Expansion]
    public: frozenset[str]
    examples: tuple[str, ...]


def parse(text: str, name: str) -> Grammar:
    """The grammar in `text`. Raises BadInput with the place of the first fault; `name` says which file it is."""
    try:
        tree: Any = _PARSER.parse(text)
    except UnexpectedInput as fault:
        place = f"line {fault.line}, column {fault.column}"
        raise BadInput(f"The grammar file {name} is not in the JSGF format at {place}. Correct it there.") from None
    title, imports, rules = tree
    if len({rule for rule, _, _ in rules}) < len(rules):
        raise BadInput(f"The grammar file {name} defines a rule twice. Give one of them another name.")
    examples = tuple(re.findall(r"@example[ \t]+([^\n*]+?)[ \t]*(?:\n|\*/)", text))
    expansions = {rule: expansion for rule, _, expansion in rules}
    return Grammar(title, imports, expansions, frozenset(rule for rule, public, _ in rules if public), examples)


class _Tree(Transformer[Token, Any]):
    """From lark's tree to ours; method names are those of the syntax."""

    def start(self, parts: list[Any]) -> tuple[str, tuple[str, ...], tuple[Any, ...]]:
        words = [part for part in parts if isinstance(part, Token) and part.type == "TOKEN"]
        uses = tuple(part for part in parts if isinstance(part, str) and not isinstance(part, Token))
        return str(words[-1]), uses, tuple(part for part in parts if isinstance(part, tuple))

    def use(self, parts: list[Any]) -> str:
        return str(parts[0]) + ("*" if str(parts[0]).endswith(".") else "")

    def rule(self, parts: list[Any]) -> tuple[str, bool, Expansion]:
        public, name, expansion = parts
        return str(name), public is not None, expansion

    def choice(self, ways: list[Any]) -> Expansion:
        return ways[0][1] if len(ways) == 1 else Choice(tuple(ways))

    def weighted(self, parts: list[Any]) -> tuple[float, Expansion]:
        weight, expansion = parts
        return (1.0 if weight is None else float(weight.strip("/ \t\n"))), expansion

    def sequence(self, parts: list[Any]) -> Expansion:
        return parts[0] if len(parts) == 1 else Sequence(tuple(parts))

    def tagged(self, parts: list[Any]) -> Expansion:
        expansion: Expansion = parts[0]
        for tag in reversed(parts[1:]):
            expansion = Tagged(tag[1:-1].strip(), expansion)
        return expansion

    def repeated(self, parts: list[Any]) -> Expansion:
        what, sign = parts
        return what if sign is None else Repeat(what, or_never=sign == "*")

    def option(self, parts: list[Any]) -> Expansion:
        return Choice(((1.0, Sequence(())), (1.0, parts[0])))

    def word(self, parts: list[Any]) -> Expansion:
        return Word(str(parts[0]))

    def reference(self, parts: list[Any]) -> Expansion:
        return Sequence(()) if parts[0] == "NULL" else Reference(str(parts[0]))


_PARSER = Lark(_SYNTAX, parser="lalr", transformer=_Tree(), maybe_placeholders=True)
