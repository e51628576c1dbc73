"""What the lists find although it was learnt that surely something else is meant: "a few good pumps on the foot valve"
sets no parking brake, "the warning for low air" fills no tank.

Law: it only takes away, and only what neither the sentence nor the words that were found by themselves are likely to
say; so what is said in one breath with something else stays.
"""

from __future__ import annotations

from assistant.review.recital.learnt import likely
from assistant.review.recital.sentences import Sentence
from assistant.review.recital.sheet import Places

_SURELY, _HARDLY, _ALONE = 0.6, 0.05, 0.1
"""How likely something else has to be, and how unlikely what was found in the whole sentence and by itself. Chosen on
writers that were not learnt from."""


def is_other(sentence: Sentence, places: Places, kind: str) -> bool:
    """Whether the words at `places` are surely not of this kind ("facts.parked")."""
    known = likely(sentence.words)
    if max(known.values()) < _SURELY or known.get(kind, 1.0) > _HARDLY:
        return False
    return likely(sentence.words[min(places) : max(places) + 1])[kind] <= _ALONE
