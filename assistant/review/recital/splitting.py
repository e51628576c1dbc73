"""A talk cut into its sentences.

Law: in speech no stop is heard, so a word that opens something new ends a sentence, too; what is said to replace
something stands alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assistant.core.events import TestId
from assistant.review.recital.figures import NUMBER_WORDS
from assistant.review.recital.negation import NOT
from assistant.review.recital.sentences import Sentence
from assistant.review.recital.tokens import Token

_ENDS = (".", "?")
_OPENERS = {"next", "now", "then", "after", "finally"}
_SUPPOSE = {"if", "when", "should", "unless"}  # "if it is over 140 then it fails" is one sentence
_BEFORE_NOW = {"is", "are", "have", "has", "by", "until", "till", "for", "from", "right", "just", "not", "but"}
_REPAIRS = {"sorry", "correction", "scratch", "oops"}


def sentences(tokens: Iterable[Token], tests: Sequence[TestId]) -> list[Sentence]:
    """The sentences of a talk. `tests`: those that can be named."""
    found: list[Sentence] = []
    held: list[Token] = []

    def close(asks: bool) -> None:
        if held:
            found.append(Sentence(held, asks, tests))
            held.clear()

    told = list(tokens)
    for at, token in enumerate(told):
        if token.text in _ENDS:
            close(token.text == "?")
            continue
        if token.text in _REPAIRS and not _is_last(told[at + 1 :]):
            # what follows takes the place of what was said; its "no" denies nothing
            while held and held[-1].text in ("no", ","):
                held.pop()
            close(False)
            continue
        if token.text in _OPENERS and len(held) > 3 and not _goes_on(held, token, told[at + 1 :]):
            close(False)
        held.append(token)
    close(False)
    return found


def _is_last(after: Sequence[Token]) -> bool:
    """Whether nothing follows that could take the place of what was said: "no, scratch that"."""
    return bool(after) and after[0].text == "that" and (len(after) == 1 or after[1].text in _ENDS)


def _goes_on(held: Sequence[Token], opener: Token, after: Sequence[Token]) -> bool:
    """Whether a word that opens something new elsewhere belongs to what was begun: "if it is over 140 then it fails",
    "the wheels of the truck are now chocked", "it must not come after fifty five"."""
    if opener.text == "then":
        return held[0].text in _SUPPOSE
    if opener.text == "after":
        figure = bool(after) and after[0].text in NUMBER_WORDS
        return figure and any(token.text in NOT for token in held)
    return opener.text == "now" and held[-1].text in _BEFORE_NOW
