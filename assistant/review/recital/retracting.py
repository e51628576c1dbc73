"""What takes back what a sentence says, or says that it is not so: mistaken, outdated, waved aside, imagined, undone.

Law: as of `negation`: what may not be so is no statement.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from assistant.review.recital.negation import ELLIPTIC, MAYBE, NOT

_DISMISSES = frozenset({
    "ignore", "ignored", "disregard", "skip", "skipped", "forget", "nobody", "who", "care", "cares", "counts", "never",
    "mind", "heard", "of", "bother", "bothers", "means", "nothing", "whatever",
}) - ELLIPTIC  # fmt: skip
"""What waves aside all that stands before it: "twenty to forty five, i ignore that"."""
_RETRACTIONS = frozenset({"mistaken", "incorrect", "untrue", "rubbish", "nonsense", "bunk", "hogwash"})
_SPEAKERS = frozenset({"he", "she", "they", "people", "who"})
_UNTRUE = frozenset({"true", "so", "it"})
_DISMISSED = (
    ("not", "the", "rule"), ("not", "the", "limit"), ("be", "a", "mistake"), ("not", "listen"), ("scratch", "that"),
    ("but", "that", "is", "wrong"), ("but", "it", "is", "wrong"), ("but", "this", "is", "wrong"),
    ("which", "is", "wrong"),
)  # fmt: skip
_WISHED = frozenset({"would", "should", "ought", "supposed", "wanted", "meant", "must"})
_OPINES = frozenset({"say", "call"})  # "i would say it passes, but" is said
_UNDONE = frozenset({"should", "could", "would", "might", "to"})  # "i ought to have set it"
_PARTICIPLES = frozenset({
    "put", "set", "let", "shut", "cut", "taken", "built", "done", "been", "held", "gone", "kept", "run", "said", "made",
    "got", "given", "thrown", "begun",
})  # fmt: skip
_INTENDED = (("going", "to"), ("about", "to"), ("meaning", "to"))
_BEFORE = frozenset({"earlier", "previously", "yesterday"})
_WAS = frozenset({"was", "were", "had"})
_PASSIVE = frozenset({"am", "is", "are", "be", "being", "get", "got"})  # "it is used to" tells of no past


def retracted(words: Sequence[str]) -> bool:
    """Whether the sentence takes back what it says ("some say at most 4, but they are mistaken", "it used to be 4")."""
    return is_outdated(words) or any(_takes_back(words, at) for at in range(len(words)))


def _takes_back(words: Sequence[str], at: int) -> bool:
    """Whether words that begin here say that what was said is not so."""
    if words[at] in _RETRACTIONS:
        return not set(words[max(0, at - 2) : at]) & NOT
    if words[at] in _SPEAKERS and "wrong" in words[at + 1 : at + 4]:
        return not set(words[at + 1 : at + 4]) & NOT
    if words[at] == "not" and at and list(words[at + 1 : at + 2]) and words[at + 1] in _UNTRUE:
        return at + 2 == len(words) or words[at + 2] in (",", "and")
    return any(tuple(words[at : at + len(one)]) == one for one in _DISMISSED)


def is_outdated(words: Sequence[str]) -> bool:
    """Whether a sentence tells what was so in former times: "it used to be 4"."""
    return ("old", "days") in pairwise(words) or any(
        tuple(words[at : at + 2]) == ("used", "to") and not set(words[max(0, at - 1) : at]) & _PASSIVE
        for at in range(len(words))
    )


def was_so(words: Sequence[str], span: tuple[int, int]) -> bool:
    """Whether a clause says what was so before, and is not any more: "the motor was off before"."""
    clause = words[span[0] : span[1]]
    past = [at for at, word in enumerate(clause) if word in _WAS]
    last = next((word for word in reversed(clause) if word != ","), "")
    return bool(past) and (last == "before" or bool(_BEFORE & set(clause[past[0] :])))


def is_elliptic(words: Sequence[str]) -> bool:
    """Whether a clause only denies what stands before it: "(the chocks should be in,) but they are not"."""
    rest = set(words) - ELLIPTIC - MAYBE
    return (bool({"not", "none", "skip"} & set(words)) and not rest) or (bool(rest) and rest <= _DISMISSES)


def unreal(words: Sequence[str], span: tuple[int, int]) -> bool:
    """Whether a clause says what is not so: "if i had chocked it", "i would release them if there were air", "they
    should be off, but", "i was going to set it"."""
    clause = set(words[span[0] : span[1]])
    supposed = ("if" in clause and bool({"had", "were"} & clause)) or ("would" in clause and "if" in words)
    wished = bool(_WISHED & clause) and not _OPINES & clause and "but" in words[span[0] :]
    return supposed or wished or _intended(words[span[0] : span[1]]) or _left_undone(words[span[0] : span[1]])


def _left_undone(clause: Sequence[str]) -> bool:
    """ "I should have set the parking brake"."""
    return any(
        word == "have"
        and clause[at - 1] in _UNDONE
        and (clause[at + 1].endswith("ed") or clause[at + 1] in _PARTICIPLES)
        for at, word in enumerate(clause[:-1])
        if at
    )


def _intended(clause: Sequence[str]) -> bool:
    return any(word in _WAS and tuple(clause[at + 1 : at + 3]) in _INTENDED for at, word in enumerate(clause))
