"""What stands behind a figure and says which way it bounds: "140 and no more", "85 or above", "55 is the minimum".

Law: each form gives the way, or None; those that take words for themselves tell how many.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from assistant.review.recital.directions import AS, EXTREMES, HIGH, LOW, OPPOSITE, SIDES, SUMMITS
from assistant.review.recital.figures import NUMBER_WORDS, Measure, Way
from assistant.review.recital.negation import NOT

_CLOSES_NOTHING = {
    "max", "maximum", "most", "least", "min", "minimum", "highest", "lowest", "longest", "smaller", "shorter",
    "short", "quicker", "faster",
}  # fmt: skip
_OPENED: dict[str, Way] = {
    "better": "min", "up": "min", "upward": "min", "upwards": "min", "down": "max", "downward": "max",
    "downwards": "max",
}  # fmt: skip
_DOWNWARD = {"upward", "upwards", "downward", "downwards"}  # these bound without an "and" before them
_VAGUE = {"anything", "something", "anywhere", "on", "any"}
PIECES = {
    "a", "one", "single", "pound", "pounds", "psi", "second", "seconds", "bit", "any", "even", "also", "inch", "hair",
}  # fmt: skip
_ASIDE = {
    "it", "is", "that", "this", "for", "allowed", "permitted", "fine", "okay", "ok", "good", "to", "do", "we", "i",
    "can", "go", "the", "limit", "maximum", "minimum", "your", "my", "lot",
}  # fmt: skip
"""What may stand between a figure and the words that close its bound: "until 140 it is allowed, not further"."""
_POINTS = {"that", "this", "it"}
_SAYS = {"is", "being", "as", "at", "for"}
_ADORNS = {"the", "my", "our", "its", "your", "a", "very", "absolute"}
_FINE = {"fine", "good", "okay", "ok", "allowed", "permitted", "better", "right", "correct"}
_BAD = {"forbidden", "wrong", "trouble", "bad", "too", "fail", "failure", "defect", "fault"}
_OR_BEFORE = {"or", "and"}
_CLOSERS = {
    ",", "in", "is", "to", "for", "or", "and", "from", "please", "when", "it", "that", "on", "at", "while", "as",
    "every", "there",
}  # fmt: skip
_TELLS = {
    "is", "was", "are", "were", "went", "got", "goes", "does", "do", "did", "has", "have", "had", "i", "it", "there",
}  # fmt: skip
"""Before a "no higher" at the end it tells what was seen, and bounds nothing."""
_READ = 12
"""Words behind a figure that may bound it."""


def words_after(words: Sequence[str], end: int) -> list[str]:
    """What stands behind a figure that ends there, later figures as any figure."""
    return [_read(word, after) for word, after in pairwise([*words[end : end + _READ], ""])]


def _read(word: str, after: str) -> str:
    """A figure that comes later, as any figure; the "one" of "not one more" is none."""
    return "number" if word in NUMBER_WORDS and not (word == "one" and after in LOW | HIGH | PIECES) else word


def opened(after: Sequence[str], measure: Measure) -> Way | None:
    """ "85 or more", "85 and up", "85 or anything beneath it"; of a time, the shorter one is the better one."""
    joined = bool(after) and after[0] in _OR_BEFORE | {"on"}
    rest = [word for word in after[joined:] if word not in _VAGUE]
    if not rest or not (joined or rest[0] in _DOWNWARD) or rest[1:2] in (["than"], ["number"], ["to"]):
        return None
    if rest[0] in LOW | HIGH:
        return "max" if rest[0] in LOW else "min"
    return "max" if rest[0] == "better" and measure == "s" else _OPENED.get(rest[0])


def weighed(after: Sequence[str]) -> tuple[Way | None, int]:
    """ "45 seconds, more is not permitted", "140, less is also good", "140, any more than that is trouble": which way,
    and how many words say it."""
    at = next((at for at, word in enumerate(after) if word in LOW | HIGH), 0)
    begin = at - 1 if after[at - 1 : at] == ["any"] else at
    if begin < 1 or after[begin - 1] not in (",", "and") or "number" in after[:at]:
        return None, 0
    then = at + 3 if after[at + 1 : at + 3] == ["than", "that"] else at + 1
    if after[then : then + 1] != ["is"]:
        return None, 0
    rest = [word for word in after[then + 1 : then + 4] if word not in ("also", "even", "just", "a")]
    way: Way = "max" if after[at] in LOW else "min"
    if rest and rest[0] in NOT | _BAD:
        return OPPOSITE[way], min(len(after), then + 3)
    return (way, then + 1) if rest and rest[0] in _FINE else (None, 0)


def going_on(before: Sequence[str], after: Sequence[str]) -> Way | None:
    """ "from 100 up"."""
    ends = after[1:2] in ([], [","], ["is"], ["it"])
    return _OPENED.get(after[0]) if before[-1:] == ["from"] and after and after[0] in ("up", "down") and ends else None


def closed(after: Sequence[str]) -> tuple[Way | None, int]:
    """ "140 and no more", "45 seconds, not a second longer", "140 must not be exceeded": which way, and how many words
    say it."""
    if "exceeded" in after[:5] and set(after[: after.index("exceeded")]) & NOT:
        return "max", after.index("exceeded") + 1
    begin = 0
    while begin < len(after) and after[begin] in _ASIDE:
        begin += 1
    at = begin
    while at < len(after) and after[at] in _OR_BEFORE | {",", "but", "also"}:
        at += 1
    joined = at > begin
    if at == len(after) or after[at] not in NOT:
        return None, 0
    at += 1
    while at < len(after) and after[at] in PIECES:
        at += 1
    goes_on = after[at + 1 : at + 2]
    ends = not goes_on or (joined and goes_on[0] in _CLOSERS)  # without a comma: "45 seconds no more"
    if at == len(after) or not (ends or after[at] == "either"):
        return None, 0
    if after[at] == "either":  # "55 to 75, not a pound either side"
        return "range", len(after)
    if after[at] == "else" and joined:  # "and nothing else"
        return "range", at + 1
    if after[at] not in (LOW | HIGH) - _CLOSES_NOTHING:
        return None, 0
    return "min" if after[at] in LOW else "max", at + 1


def trailing(words: Sequence[str]) -> tuple[Way, int] | None:
    """ "i have 45 seconds for it, no more": which way the very end closes the last figure, and where its negation
    stands."""
    if not words or words[-1] not in (LOW | HIGH) - _CLOSES_NOTHING:
        return None
    at = len(words) - 2
    while at > 0 and words[at] in PIECES:
        at -= 1
    if at < 1 or words[at] not in NOT - {"nor"} or words[at - 1] in _TELLS:
        return None
    return "min" if words[-1] in LOW else "max", at


def named(after: Sequence[str]) -> Way | None:
    """ "140 maximum", "140 is the very most", "45 seconds at the most"."""
    if after[:1] == ["tops"]:
        return "max"
    if after[:1] and after[0] in EXTREMES:
        return EXTREMES[after[0]]
    if after[:1] == [","] and after[1:2] and after[1] in _POINTS:
        after = after[2:]
    if after[:1] and after[0] in _SAYS | {"the"}:
        if after[1:2] == ["as"] and after[3:4] == ["as"]:
            return AS.get(after[2])
        return (SIDES | SUMMITS).get(next((word for word in after[1:] if word not in _ADORNS), ""))
    return None
