"""Free talk as words with times: small letters, figures as number words, contractions taken apart, breaks kept.

Law: nothing is guessed here. A number typed in figures gets the spelling of core.numbers; a negation hidden in a
contraction ("isn't") becomes a word of its own, so that it can't be overlooked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise, zip_longest
from typing import NamedTuple

from assistant.core.events import Heard, Word
from assistant.core.numbers import from_figures
from assistant.review.recital.figures import NUMBER_WORDS

PAUSE_MS = 450  # a silence between two words that ends a sentence; common practice, no source
COMMA_MS = 200
"""A silence between two words that stands for a comma. Where one was written five natural synthetic voices leave so
much in 32 of 100 places, elsewhere inside a sentence in 1 of 100."""

_PIECE = re.compile(r"\d+(?:\.\d+)?|[a-z]+(?:'[a-z]+)*|[.!?;:]|,")
_RANGE = re.compile(r"(\d)\s*[-\u2013\u2014]\s*(?=\d)")
_PSI = re.compile(r"\bp\.\s?s\.\s?i\b\.?")
_NOT = {"can't": ("can",), "won't": ("will",), "shan't": ("shall",), "ain't": ("is",), "cannot": ("can",)}
_SLURRED = {
    "gonna": ("going", "to"), "gotta": ("got", "to"), "wanna": ("want", "to"), "dunno": ("do", "not", "know"),
    "nah": ("no",), "naw": ("no",),
}  # fmt: skip
_UNITS = {"lbs": "pounds", "lb": "pounds", "kpa": "kilopascals", "secs": "seconds", "sec": "seconds"}
_EACH = {"a", "one", "1", "per", "each", "the", "full"}  # before a "min" that is a minute


class Token(NamedTuple):
    """`text`: "." ends a sentence, "?" makes a question of it, "," is a smaller break; else a word.
    `start_ms`, `end_ms`: of the check."""

    text: str
    start_ms: int
    end_ms: int


def tokens_of(heard: Heard) -> tuple[Token, ...]:
    """The words of one utterance, free decode before the strict one, with a break behind the last."""
    if heard.open_words:
        found = [token for word in _with_pauses(heard.open_words) for token in _split(word)]
    else:
        text = heard.text if heard.open_text is None else heard.open_text
        found = list(_split(Word(text=text, start_ms=heard.start_ms, end_ms=heard.end_ms)))
    return (*found, Token(".", heard.end_ms, heard.end_ms))


def words_of_text(text: str) -> tuple[str, ...]:
    """The same for a text without times."""
    return tuple(token.text for token in _split(Word(text=text, start_ms=0, end_ms=0)))


def _with_pauses(words: Sequence[Word]) -> Iterator[Word]:
    for word, after in zip_longest(words, words[1:]):
        yield word
        pause = after.start_ms - word.end_ms if after else 0
        if pause >= COMMA_MS:
            yield Word(text="." if pause >= PAUSE_MS else ",", start_ms=word.end_ms, end_ms=word.end_ms)


def _split(word: Word) -> Iterator[Token]:
    text = _RANGE.sub(r"\1 to ", word.text.lower().replace("\u2019", "'"))
    pieces = _PIECE.findall(_PSI.sub("psi", text))
    for before, piece in pairwise(["", *pieces]):
        for part in _parts(_min(before, pieces) if piece == "min" else piece):
            yield Token(part, word.start_ms, word.end_ms)


def _min(before: str, pieces: Sequence[str]) -> str:
    """ "3 in 1 min" is a minute, "min 55" and "55 min, 75 max" are none."""
    counted = before[:1].isdigit() or before in NUMBER_WORDS
    return "minute" if before in _EACH or (counted and "max" not in pieces) else "minimum"


def _parts(piece: str) -> Iterable[str]:
    if piece[0].isdigit():
        return from_figures(piece) or ("figure",)
    if piece in ("!", ";", ":"):
        return ("," if piece == ":" else ".",)
    if piece in _SLURRED:
        return _SLURRED[piece]
    if piece in _NOT:
        return (*_NOT[piece], "not")
    if piece.endswith("n't"):
        return piece[:-3], "not"
    if "'" in piece:
        stem, _, rest = piece.partition("'")
        return (stem, {"s": "is", "re": "are", "ve": "have", "ll": "will", "m": "am", "d": "would"}.get(rest, rest))
    return (_UNITS.get(piece, piece),)
