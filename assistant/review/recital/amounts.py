"""Which way the figures of free talk bound.

Law: direction is read from the words around a number and from the negations among them: "not more than" is at most,
"not less than" is at least. Nothing here is fuzzy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from assistant.review.recital.figures import NUMBER_WORDS, Amount, Measure, Way, figures
from assistant.review.recital.negation import NOT

_LOW = {
    "less", "below", "under", "lower", "fewer", "beneath", "underneath", "max", "maximum", "most", "inside", "upper",
    "highest", "longest", "smaller", "shorter", "short", "quicker", "faster",
}  # fmt: skip
_HIGH = {
    "more", "above", "over", "higher", "greater", "exceed", "exceeds", "exceeding", "beyond", "past", "least", "min",
    "minimum", "larger", "bigger", "further", "farther", "slower", "excess", "later", "longer", "lowest", "surpass",
    "overstep", "overshoot",
}  # fmt: skip
_CLOSES_NOTHING = {
    "max", "maximum", "most", "least", "min", "minimum", "highest", "lowest", "longest", "smaller", "shorter",
    "short", "quicker", "faster",
}  # fmt: skip
_GOES_OVER = {"pass", "passes", "passing", "top", "tops", "topping"}  # right before the figure
_EXTREMES: dict[str, Way] = {"minimum": "min", "min": "min", "maximum": "max", "max": "max"}
_SUMMITS: dict[str, Way] = _EXTREMES | {
    "most": "max", "highest": "max", "longest": "max", "ceiling": "max", "upper": "max", "top": "max",
    "largest": "max", "biggest": "max", "greatest": "max", "utmost": "max", "cap": "max", "outside": "max",
    "roof": "max",
    "least": "min", "lowest": "min", "floor": "min", "bottom": "min", "smallest": "min",
}  # fmt: skip
_NAMED = {"ceiling", "cap", "roof", "largest", "biggest", "greatest", "utmost", "smallest"}
_AS: dict[str, Way] = {"low": "min", "little": "min", "high": "max", "much": "max", "long": "max", "far": "max"}
_SIDES: dict[str, Way] = {"lower": "min", "upper": "max"}
_UNTURNED = {*_AS, *_SIDES}  # "no upper limit" is no lower one
_OPENED: dict[str, Way] = {
    "better": "min", "up": "min", "upward": "min", "upwards": "min", "down": "max", "downward": "max",
    "downwards": "max",
}  # fmt: skip
_DOWNWARD = {"upward", "upwards", "downward", "downwards"}  # these bound without an "and" before them
_VAGUE = {"anything", "something", "anywhere", "on", "any"}
_PIECES = {
    "a", "one", "single", "pound", "pounds", "psi", "second", "seconds", "bit", "any", "even", "also", "inch", "hair",
}  # fmt: skip
_ASIDE = {
    "it", "is", "that", "this", "for", "allowed", "permitted", "fine", "okay", "ok", "good", "to", "do", "we", "i",
    "can", "go", "the", "limit", "maximum", "minimum", "your", "my", "lot",
}  # fmt: skip
"""What may stand between a figure and the words that close its bound: "until 140 it is allowed, not further"."""
_FALLING = {"drop", "drops", "dropping", "fall", "falls", "falling", "sink", "sinks", "sinking", "down"}
_PASSED = {"past", "beyond", "further", "farther"}  # of what falls, what is lower: "it must not drop past 100"
_SAYS = {"is", "being", "as", "at", "for"}
_ADORNS = {"the", "my", "our", "its", "your", "a", "very", "absolute"}
_FINE = {"fine", "good", "okay", "ok", "allowed", "permitted", "better", "right", "correct"}
_BOTH_WAYS = {"either", "else"}  # "55 to 75, not a pound either side", "and nothing else": not of one figure
_OPPOSITE: dict[Way, Way] = {"min": "max", "max": "min", "at": "at", "range": "range", "late": "late"}
_LOOSE = {"and", ",", "then", "now"}
_OUTSIDE = {"outside", "except"}
_CLEAR_OF = (("out", "of"), ("clear", "of"), ("away", "from"))
_ANY = {"any", "anything", "anywhere"}
_WITHIN = {"within", "inside"}
_ENDS = {"limit", "end", "bound", "figure", "value"}
_OR_BEFORE = {"or", "and"}
_BREAKS = {".", "?", ","}
_CLOSERS = {
    ",", "in", "is", "to", "for", "or", "and", "from", "please", "when", "it", "that", "on", "at", "while", "as",
    "every", "there",
}  # fmt: skip
_REACH = 6
FURTHEST = 12
"""Words between a negation and the figure that it bounds: "i do not want to see that needle any higher than"."""


def amounts(words: Sequence[str]) -> tuple[Amount, ...]:
    """Every number of the clause, two that make a range as one, with the way it bounds."""
    found: list[Amount] = []
    for amount in figures(words):
        found.append(_directed(amount, words, found[-1].end if found else 0))
    return tuple(found)


def opposite(amount: Amount) -> Amount:
    """What is bound where this must not be: "over 140 fails" is at most."""
    if amount.way == "range":
        return replace(amount, denied=not amount.denied)
    return replace(amount, way=_OPPOSITE[amount.way])


def _directed(amount: Amount, words: Sequence[str], left: int) -> Amount:
    start = _reach_left(words, amount.first, left)
    before = list(words[start : amount.first])
    if set(before[:1]) & {"or", "nor"} and left:  # "not lower than 20 or higher than 45" denies both
        before = [word for word in words[_reach_left(words, left, 0) : left] if word in NOT] + before
    if "unless" in before:
        before = before[before.index("unless") + 1 :]
    after = [_unread(word, next_word) for word, next_word in pairwise([*words[amount.end : amount.end + 12], ""])]
    negated = _negated(before)
    falling = _falls(before)
    closed, length = _way_closed(after)
    if closed and not negated and (closed != "range" or amount.way == "range"):
        kept = "range" if amount.way == "range" else closed
        return replace(amount, way=kept, end=amount.end + length + _way_closed(after[length:])[1])
    if amount.way == "range":
        return replace(amount, denied=negated)
    if negated and before[-2:] in (["later", "than"], ["than", "at"]) and "later" in before and amount.measure != "s":
        return replace(amount, way="late")
    weighed, length = _way_weighed(after)
    if weighed and not negated and amount.way == "at":
        return replace(amount, way=weighed, end=amount.end + length)
    opened = _way_opened(after, amount.measure) or _way_going_on(before, after)
    summit = _way_named(after)
    way = _EXTREMES.get(before[-1]) if before else None
    if way is None and after[:1] and after[0] in _EXTREMES:
        amount = replace(amount, end=amount.end + 1)  # "55 minimum and 75": it says nothing of the next
    way = way or _turned(opened, before) or summit or _way_before(before, negated, _is_falling(before, after, words))
    if way is None:
        return replace(amount, denied=negated, before=falling)
    inside = any(word in _WITHIN for word in before[-3:])  # "not within" bounds nothing
    return replace(amount, way=way, before=falling, denied=negated and (inside or summit is not None))


def _unread(word: str, after: str) -> str:
    """A figure that comes later, as any figure; the "one" of "not one more" is none."""
    return "number" if word in NUMBER_WORDS and not (word == "one" and after in _LOW | _HIGH | _PIECES) else word


def _negated(before: Sequence[str]) -> bool:
    """Whether these words deny what comes ("not", "outside of", "anything but"; "at the outside" does not)."""
    if before[-2:] == ["other", "than"] or (before[-1:] == ["but"] and _ANY & set(before)):
        return True
    nots = any(negates(before, at) for at in range(len(before)))
    return nots != is_outside(before)


def negates(words: Sequence[str], at: int) -> bool:
    """Whether a negation stands here, or a "without" that is one: "without exceeding 45"."""
    return words[at] in NOT or (words[at] == "without" and "".join(words[at + 1 : at + 2]).endswith("ing"))


def is_outside(before: Sequence[str]) -> bool:
    """ "outside of", "out of"; "at the outside" is none."""
    return any(
        (word in _OUTSIDE and before[at - 1 : at] != ["the"]) or tuple(before[at : at + 2]) in _CLEAR_OF
        for at, word in enumerate(before)
    )


def _turned(way: Way | None, before: Sequence[str]) -> Way | None:
    """What "85 or more" comes to behind these words: "it must not be 85 or more" is at most. A "no" may answer
    something else."""
    if way is None or not any(word in NOT and word != "no" for word in before):
        return way
    return _OPPOSITE[way]


def _is_falling(before: Sequence[str], after: Sequence[str], words: Sequence[str]) -> bool:
    """Whether the figure is reached from above ("drop past 100") and is not that of a loss, which is told by the
    minute."""
    lost = bool({"minute", "seconds"} & set(words))
    return not lost and bool(_FALLING & {*before, *(after[:4] if "way" in after[:4] else ())})


def _falls(before: Sequence[str]) -> bool:
    """ "by", or "before" with what must not happen first: "i read 90 before" is no bound."""
    return any(
        word == "by" or (word == "before" and before[at + 1 : at + 2] and before[at + 1] not in _LOOSE)
        for at, word in enumerate(before)
    )


def _reach_left(words: Sequence[str], first: int, left: int) -> int:
    start = first
    if words[first - 1 : first] == (",",) and first >= left + 2 and words[first - 2] in _ENDS | _SUMMITS.keys():
        start -= 1  # "upper limit, 140"
    while start > left and first - start < FURTHEST and words[start - 1] not in _BREAKS:
        start -= 1
    return start


def _way_opened(after: Sequence[str], measure: Measure) -> Way | None:
    """ "85 or more", "85 and up", "85 or anything beneath it"; of a time, the shorter one is the better one."""
    joined = bool(after) and after[0] in _OR_BEFORE | {"on"}
    rest = [word for word in after[joined:] if word not in _VAGUE]
    if not rest or not (joined or rest[0] in _DOWNWARD) or rest[1:2] in (["than"], ["number"], ["to"]):
        return None
    if rest[0] in _LOW | _HIGH:
        return "max" if rest[0] in _LOW else "min"
    return "max" if rest[0] == "better" and measure == "s" else _OPENED.get(rest[0])


def _way_weighed(after: Sequence[str]) -> tuple[Way | None, int]:
    """ "45 seconds, more is not permitted", "140, less is also good": which way, and how many words say it."""
    if after[:1] not in ([","], ["and"]) or not {*after[1:2]} & (_LOW | _HIGH) or after[2:3] != ["is"]:
        return None, 0
    rest = [word for word in after[3:6] if word not in ("also", "even", "just", "too")]
    way: Way = "max" if after[1] in _LOW else "min"
    if rest and rest[0] in NOT | {"forbidden", "wrong"}:
        return _OPPOSITE[way], min(len(after), 5)
    return (way, 3) if rest and rest[0] in _FINE else (None, 0)


def _way_going_on(before: Sequence[str], after: Sequence[str]) -> Way | None:
    """ "from 100 up"."""
    ends = after[1:2] in ([], [","], ["is"], ["it"])
    return _OPENED.get(after[0]) if before[-1:] == ["from"] and after and after[0] in ("up", "down") and ends else None


def _way_closed(after: Sequence[str]) -> tuple[Way | None, int]:
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
    if at == begin or at == len(after) or after[at] not in NOT:
        return None, 0
    at += 1
    while at < len(after) and after[at] in _PIECES:
        at += 1
    goes_on = after[at + 1 : at + 2]
    ends = not goes_on or goes_on[0] in _CLOSERS
    if at == len(after) or not (ends or after[at] == "either"):
        return None, 0
    if after[at] in _BOTH_WAYS:
        return "range", len(after) if after[at] == "either" else at + 1
    if after[at] not in (_LOW | _HIGH) - _CLOSES_NOTHING:
        return None, 0
    return "min" if after[at] in _LOW else "max", at + 1


def _way_named(after: Sequence[str]) -> Way | None:
    """ "140 maximum", "140 is the very most", "45 seconds at the most"."""
    if after[:1] == ["tops"]:
        return "max"
    if after[:1] and after[0] in _EXTREMES:
        return _EXTREMES[after[0]]
    if after[:1] and after[0] in _SAYS | {"the"}:
        if after[1:2] == ["as"] and after[3:4] == ["as"]:
            return _AS.get(after[2])
        return (_SIDES | _SUMMITS).get(next((word for word in after[1:] if word not in _ADORNS), ""))
    return None


def _way_before(before: Sequence[str], negated: bool, falling: bool) -> Way | None:
    near = before[-_REACH:]
    if near and near[-1] in _GOES_OVER:
        return "max" if negated else "min"
    for at in range(len(near) - 1, -1, -1):
        summit = _summit(near, at)
        if summit:
            return _OPPOSITE[summit] if negated and near[at] not in _UNTURNED else summit
        if near[at] in _WITHIN or (near[at] == "to" and near[at - 1 : at] == ["up"]):
            return "max"
        if near[at] in _LOW | _HIGH:
            return _compared(near[at], before, negated, falling)
    return None


def _summit(near: Sequence[str], at: int) -> Way | None:
    """ "the largest value", "the lower limit", "as high as"."""
    word, after = near[at], near[at + 1 : at + 2]
    if word in _AS and near[at - 1 : at] == ["as"] and after == ["as"]:
        return _AS[word]
    ends = bool(after) and after[0] in _ENDS
    if word in _NAMED or (ends and word in _SUMMITS and word not in _LOW | _HIGH):
        return _SUMMITS[word]
    return _SIDES.get(word) if ends else None


def _compared(word: str, before: Sequence[str], negated: bool, falling: bool) -> Way:
    """Which way a comparing word bounds behind these words. `falling`: it is said of what falls."""
    low = word in _LOW or (word in _PASSED and falling)
    if negated:
        low = not low  # "does not have to be at least 20" is no lower bound, "not more than 20" an upper one
    elif word in ("below", "under", "less", "lower", "beneath", "underneath") and _falls(before):
        low = False  # "before it falls below 55": at 55 at the latest
    elif word in ("over", "above", "past", "beyond", "higher", "more") and "before" in before:
        low = True
    return "max" if low else "min"
