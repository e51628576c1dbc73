"""How like two words sound, for a word that the recogniser may have taken for another. The only module that imports
rapidfuzz.

Law: only single words of the wordings are ever looked for; numbers, bounds and denials never come here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

from rapidfuzz.distance import JaroWinkler, Levenshtein

CUTOFF = 0.86
MARGIN = (
    0.04  # to the best word that means something else; both measured on the development half of tests.bench.recital
)
_SHORTEST = 5  # a shorter word has to sound the same

_FOLDS = (
    (r"^kn", "n"), (r"^wr", "r"), (r"th", "T"), (r"tch", "C"), (r"ch", "C"), (r"sh", "C"), (r"ph", "f"),
    (r"gh", ""), (r"ck", "k"),
    (r"c(?=[eiy])", "s"), (r"[cq]", "k"), (r"x", "ks"), (r"g(?=[eiy])", "j"), (r"z", "s"), (r"dge?", "j"),
    (r"(.)\1+", r"\1"), (r"(?<=.)[hw]", ""), (r"e$", ""), (r"[aeiouy]+", "a"),
)  # fmt: skip


@cache
def sound_of(word: str) -> str:
    """A rough spelling by sound: one vowel for all, letters that sound alike made one."""
    for pattern, by in _FOLDS:
        word = re.sub(pattern, by, word)
    return word


def likeness(heard: str, meant: str) -> float:
    """0 to 1: by sound two parts, by letters one."""
    if sound_of(heard)[:1] != sound_of(meant)[:1] or abs(len(heard) - len(meant)) > 2:
        return 0.0
    by_sound = Levenshtein.normalized_similarity(sound_of(heard), sound_of(meant))
    return (2 * by_sound + JaroWinkler.similarity(heard, meant)) / 3


def likest(heard: str, words: Iterable[tuple[str, frozenset[str]]]) -> str | None:
    """The word that `heard` must have been, None when none is near enough or another meaning is nearly as near.

    `words`: each with what it means.
    """
    if len(heard) < _SHORTEST:
        words = [one for one in words if sound_of(one[0]) == sound_of(heard)]
    scored = sorted(((likeness(heard, word), word, means) for word, means in words), key=lambda one: -one[0])
    best, word, means = scored[0] if scored else (0.0, "", frozenset())
    rival = next((score for score, _, other in scored if not other & means), 0.0)
    return word if best >= CUTOFF and best - rival >= MARGIN else None
