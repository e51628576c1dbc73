"""What a sentence says of its figures: what has to be, or what must not be ("over 140 fails").

Law: a word of failure turns round only the figure that it is about.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.review.recital.amounts import FURTHEST, opposite
from assistant.review.recital.directions import HIGH, LOW
from assistant.review.recital.figures import Amount
from assistant.review.recital.negation import NOT, voids
from assistant.review.recital.sentences import NEAR, Sentence
from assistant.review.recital.wording import Hit

_SUBJECTS = {"i", "we", "she", "he", "it", "you", "they", "truck", "vehicle", "rig", "nobody", "that"}
_FAR = 8
_LETS_GO = {",", "else", "or", "and", "unless", "without"}  # what comes after is said of something else
_ALLOWS = {
    "allowed", "permitted", "accepted", "acceptable", "tolerated", "legal", "okay", "ok", "fine", "good", "pass", "do",
}  # fmt: skip
_WHEN = {"if", "when", "for"}
_CONDITIONS = {"if", "when", "once"}
_BEGIN_CONDITIONS = {
    "anything", "everything", "any", "more", "less", "over", "under", "above", "below", "higher", "lower", "should",
}  # fmt: skip


def bounds(sentence: Sentence) -> tuple[Amount, ...]:
    """The amounts as what has to be: what must not be is turned round."""
    turned = refused(sentence, sentence.amounts)
    return tuple(opposite(one) if one in turned else one for one in sentence.amounts)


def refused(sentence: Sentence, said: Sequence[Amount]) -> list[Amount]:
    """Those of the amounts that say what must not be; of "less than 55 or more than 75", both or none."""
    found = [one for one in said if _refuses(sentence, one)]
    outside = [one.way for one in sorted(said, key=lambda one: one.value)] == ["max", "min"]
    return list(said) if outside and (found or _is_refusal(sentence)) else found


def insists(sentence: Sentence, amount: Amount) -> bool:
    """Whether all else is refused: "unless it is 140 or less it fails"."""
    words = sentence.words
    if "unless" not in words[: amount.first]:
        return False
    left = {*range(words.index("unless")), *range(amount.end, len(words))}
    return any(hit.first in left for hit in _failures(sentence)) or any(words[at] in NOT for at in left)


def conditional(sentence: Sentence, amount: Amount) -> bool:
    """Whether the amount is said of what may happen: "if it goes over 140", "anything over 140"."""
    first, _ = _clause(sentence, amount)
    before = sentence.words[first : amount.first]
    return bool(_CONDITIONS & set(before)) or bool(before and before[0] in _BEGIN_CONDITIONS)


def _refuses(sentence: Sentence, amount: Amount) -> bool:
    """Whether what is said is what must not be: "over 140 fails", "i fail it if it goes over 140"."""
    if insists(sentence, amount):
        return False
    if conditional(sentence, amount) and _fails_then(sentence, amount):
        return True
    if amount.way in ("min", "max") and _disallowed(sentence, amount):
        return True
    words, (first, end) = sentence.words, _clause(sentence, amount)
    if _denials(sentence, range(first, end)):
        return False
    own = range(amount.first, amount.end)  # "140, any more is trouble" is bounded already
    hits = [hit for hit in _failures(sentence) if first <= hit.first and hit.end <= end and hit.first not in own]
    after = [words[amount.end : hit.first] for hit in hits if 0 <= hit.end - amount.end <= _FAR]
    before = [words[hit.end : amount.first] for hit in hits if 0 <= amount.first - hit.first <= _FAR]
    return any(not _LETS_GO & set(part) for part in after) or any(_limits(part) for part in before)


def _limits(between: Sequence[str]) -> bool:
    """Whether what stands between a failure and a figure makes the failure one of that: "a defect above 140"."""
    return bool(_WHEN & set(between)) or (bool(between) and (LOW | HIGH | {"than", "at"}).issuperset(between))


def _fails_then(sentence: Sentence, amount: Amount) -> bool:
    """Whether what follows from a condition is a failure: "it is a fail", "i am not taking her out"."""
    words, (_, own) = sentence.words, _clause(sentence, amount)
    then = range(amount.end, next((span[1] for span in sentence.clauses if span[0] >= own), own))
    nots = _denials(sentence, then)
    hits = [hit for hit in _failures(sentence) if hit.first in then[: FURTHEST + 1]]
    if hits:
        return not any(0 < hit.first - at <= NEAR for hit in hits for at in nots)
    told = any(_SUBJECTS & set(words[max(amount.end, at - 2) : at]) for at in nots)  # "i am not"
    return told and not any(voids(words, at) for at in nots)


def _disallowed(sentence: Sentence, amount: Amount) -> bool:
    """Whether the words behind a bound forbid it: "more than 3 is not allowed"."""
    first, end = _clause(sentence, amount)
    after = sentence.words[amount.end : end]
    at = next((at for at, word in enumerate(after) if word in NOT), None)
    if at is None or "," in after[:at] or sentence.bounding & set(range(first, amount.first)):
        return False
    return bool(_ALLOWS & set(after[at + 1 : at + 4]))


def _is_refusal(sentence: Sentence) -> bool:
    return bool(_failures(sentence)) and not _denials(sentence, range(len(sentence.words)))


def _failures(sentence: Sentence) -> Sequence[Hit]:
    return sentence.found.get("refused", ())


def _denials(sentence: Sentence, places: range) -> list[int]:
    """Negations among these places that belong to no bound."""
    return [at for at in places if sentence.words[at] in NOT and at not in sentence.bounding]


def _clause(sentence: Sentence, amount: Amount) -> tuple[int, int]:
    return sentence.clause(range(amount.first, amount.end))
