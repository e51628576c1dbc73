"""Which way the figures of free talk bound.

Law: direction is read from the words around a number and from the negations among them: "not more than" is at most,
"not less than" is at least. Nothing here is fuzzy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assistant.review.recital import behind
from assistant.review.recital.behind import PIECES
from assistant.review.recital.directions import AS, EXTREMES, HIGH, LOW, OPPOSITE, SIDES, SUMMITS
from assistant.review.recital.figures import Amount, Way, figures
from assistant.review.recital.negation import NOT

_GOES_OVER = {"pass", "passes", "passing", "top", "tops", "topping"}  # right before the figure
_NAMED = {"ceiling", "cap", "roof", "largest", "biggest", "greatest", "utmost", "smallest"}
_UNTURNED = {*AS, *SIDES}  # "no upper limit" is no lower one
_FALLING = {"drop", "drops", "dropping", "fall", "falls", "falling", "sink", "sinks", "sinking", "down"}
_PASSED = {"past", "beyond", "further", "farther"}  # of what falls, what is lower: "it must not drop past 100"
_EARLY = {"sooner", "earlier"}
_A_DROP = 10  # a smaller figure is no level that something could fall to
_LOOSE = {"and", ",", "then", "now"}
_OUTSIDE = {"outside", "except"}
_CLEAR_OF = (("out", "of"), ("clear", "of"), ("away", "from"))
_ANY = {"any", "anything", "anywhere"}
_WITHIN = {"within", "inside"}
_ENDS = {"limit", "end", "bound", "figure", "value"}
_BREAKS = {".", "?", ","}
_REACH = 6
FURTHEST = 12
"""Words between a negation and the figure that it bounds: "i do not want to see that needle any higher than"."""


def amounts(words: Sequence[str]) -> tuple[Amount, ...]:
    """Every number of the clause, two that make a range as one, with the way it bounds."""
    found: list[Amount] = []
    for amount in figures(words):
        if _is_piece(amount, words):
            continue
        found.append(_directed(amount, words, found[-1].end if found else 0))
    closing = behind.trailing(words)
    return tuple(found if closing is None else _closed(found, *closing))


def _is_piece(amount: Amount, words: Sequence[str]) -> bool:
    """The one of "one over 140" and "one pound short of 100"."""
    return amount.value == 1 and amount.high is None and bool((LOW | HIGH) & set(words[amount.end : amount.end + 1]))


def _closed(found: Sequence[Amount], way: Way, until: int) -> list[Amount]:
    """The last bare figure before that place bounds this way; "in a minute" only tells how long."""
    bare = [one for one in found if one.end <= until and one.way == "at" and (one.measure, one.value) != ("s", 60)]
    return [replace(one, way=way, denied=False, before=False) if one in bare[-1:] else one for one in found]


def opposite(amount: Amount) -> Amount:
    """What is bound where this must not be: "over 140 fails" is at most."""
    if amount.way == "range":
        return replace(amount, denied=not amount.denied)
    return replace(amount, way=OPPOSITE[amount.way])


def _directed(amount: Amount, words: Sequence[str], left: int) -> Amount:
    start = _reach_left(words, amount.first, left)
    before = list(words[start : amount.first])
    if set(before[:1]) & {"or", "nor"} and left:  # "not lower than 20 or higher than 45" denies both
        before = [word for word in words[_reach_left(words, left, 0) : left] if word in NOT] + before
    if "unless" in before:
        before = before[before.index("unless") + 1 :]
    after = behind.words_after(words, amount.end)
    negated = _negated(before)
    falling = _falls(before)
    closed, length = behind.closed(after)
    if closed and not negated and (closed != "range" or amount.way == "range"):
        kept = "range" if amount.way == "range" else closed
        return replace(amount, way=kept, end=amount.end + length + behind.closed(after[length:])[1])
    if amount.way == "range":
        return replace(amount, denied=negated)
    if negated and amount.measure != "s" and (moment := _moment(before)):
        return replace(amount, way=moment)
    weighed, length = behind.weighed(after)
    if weighed and not negated and amount.way == "at":
        return replace(amount, way=weighed, end=amount.end + length)
    opened = behind.opened(after, amount.measure) or behind.going_on(before, after)
    summit = behind.named(after)
    way = EXTREMES.get(before[-1]) if before else None
    if way is None and after[:1] and after[0] in EXTREMES:
        amount = replace(amount, end=amount.end + 1)  # "55 minimum and 75": it says nothing of the next
    way = (
        way
        or _turned(opened, before)
        or summit
        or _way_before(before, negated, amount.value >= _A_DROP and _is_falling(before, after, words))
    )
    if way is None:
        return replace(amount, denied=negated, before=falling)
    inside = any(word in _WITHIN for word in before[-3:])  # "not within" bounds nothing
    return replace(amount, way=way, before=falling, denied=negated and (inside or summit is not None))


def _negated(before: Sequence[str]) -> bool:
    """Whether these words deny what comes ("not", "outside of", "anything but"; "at the outside" does not)."""
    if before[-2:] == ["other", "than"] or (before[-1:] == ["but"] and _ANY & set(before)):
        return True
    nots = any(negates(before, at) for at in range(len(before)))
    return nots != is_outside(before)


def _moment(before: Sequence[str]) -> Way | None:
    """What must not happen "later than" or "after" the figure, "sooner than" or "before" it."""
    if before[-1:] == ["after"] or (before[-2:] in (["later", "than"], ["than", "at"]) and "later" in before):
        return "late"
    if before[-1:] == ["before"] or (before[-1:] == ["than"] and _EARLY & set(before[-2:])):
        return "early"
    return None


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
    return OPPOSITE[way]


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
    if words[first - 1 : first] == (",",) and first >= left + 2 and words[first - 2] in _ENDS | SUMMITS.keys():
        start -= 1  # "upper limit, 140"
    while start > left and first - start < FURTHEST and words[start - 1] not in _BREAKS:
        start -= 1
    return start


def _way_before(before: Sequence[str], negated: bool, falling: bool) -> Way | None:
    near = before[-_REACH:]
    if near and near[-1] in _GOES_OVER:
        return "max" if negated else "min"
    for at in range(len(near) - 1, -1, -1):
        summit = _summit(near, at)
        if summit:
            return OPPOSITE[summit] if negated and near[at] not in _UNTURNED else summit
        if near[at] in _WITHIN or (near[at] == "to" and near[at - 1 : at] == ["up"]):
            return "max"
        if near[at] in LOW | HIGH and not (near[at] == "later" and near[at + 1 : at + 2] != ["than"]):
            tells = negated or not _by_a_piece(near[:at])
            return _compared(near[at], before, negated, falling) if tells else None
    return None


def _by_a_piece(words: Sequence[str]) -> bool:
    """ "One pound (over 140)": what then comes of it tells which way it bounds."""
    return bool(words) and words[-1] in PIECES and bool({"one", "a", "single"} & set(words[-2:]))


def _summit(near: Sequence[str], at: int) -> Way | None:
    """ "the largest value", "the lower limit", "as high as"."""
    word, after = near[at], near[at + 1 : at + 2]
    if word in AS and near[at - 1 : at] == ["as"] and after == ["as"]:
        return AS[word]
    ends = bool(after) and after[0] in _ENDS
    if word in _NAMED or (ends and word in SUMMITS and word not in LOW | HIGH):
        return SUMMITS[word]
    return SIDES.get(word) if ends else None


def _compared(word: str, before: Sequence[str], negated: bool, falling: bool) -> Way:
    """Which way a comparing word bounds behind these words. `falling`: it is said of what falls."""
    low = word in LOW or (word in _PASSED and falling)
    if negated:
        low = not low  # "does not have to be at least 20" is no lower bound, "not more than 20" an upper one
    elif word in ("below", "under", "less", "lower", "beneath", "underneath") and _falls(before):
        low = False  # "before it falls below 55": at 55 at the latest
    elif word in ("over", "above", "past", "beyond", "higher", "more") and "before" in before:
        low = True
    return "max" if low else "min"
