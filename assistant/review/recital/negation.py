"""What denies, and how far it reaches.

Law: a negation reaches over its whole clause, both ways, and is read as one word, never as a likeness. A sentence that
may be a denial is no statement: a recital that is not credited can be said again, one that was wrongly credited is
learnt wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

NOT = frozenset(
    {"no", "not", "never", "nor", "neither", "nobody", "none", "nothing", "hardly", "barely", "nowt", "nope"}
)
_LACK = frozenset({
    "without", "forget", "forgets", "forgot", "forgotten", "forgetting", "skip", "skips", "skipped", "skipping",
    "omit", "omitted", "ignore", "ignored", "ignoring", "refuse", "refused", "refuses", "unless", "instead", "avoid",
    "avoided", "fail", "failed", "fails", "unable", "missing", "lack", "lacks", "lacking", "neglect",
    "neglected", "except", "false", "untrue", "wrong", "pretend", "optional",
    "unnecessary", "needless", "overlook", "overlooked", "forbidden", "doubt", "doubts", "pending", "almost", "nearly",
    "negative", "refrain", "refrains", "unsuccessful", "missed",
})  # fmt: skip
_FAR = ("far", "from")  # of "the truck" it is a place, of "full" a denial
_PUT_OFF = (
    ("anything", "but"), _FAR, ("rather", "than"), ("too", "early"), ("too", "soon"), ("yet", "to"), ("about", "to"),
    ("still", "need"), ("still", "needs"), ("still", "have", "to"), ("still", "has", "to"), ("still", "must"),
    ("must", "still"), ("in", "a", "while"), ("in", "a", "bit"), ("one", "day"), ("left", "out"), ("out", "of", "it"),
    ("another", "time"), ("somebody", "else"), ("someone", "else"), ("what", "for"), ("why", "would"),
    ("why", "should"), ("why", "bother"), ("who", "needs"), ("who", "cares"), ("whoever", "calls"), ("whoever", "says"),
)  # fmt: skip
_DECLINED = frozenset({
    "skip", "skips", "skipped", "skipping", "omit", "omitted", "forget", "forgot", "forgotten", "ignore", "refuse",
    "instead", "unnecessary", "optional", "neglect", "overlook",
})  # fmt: skip
_LOOKING = frozenset({"checked", "check", "verified", "verify", "made", "looked", "know", "sent", "cleared"})
_DOING = frozenset({
    "do", "doing", "did", "done", "test", "tested", "testing", "check", "checked", "checking", "run", "running",
    "perform", "need", "needed", "bother", "today", "going", "necessary", "required",
})  # fmt: skip
_ASKING = frozenset({"is", "are", "was", "were", "does", "do", "did", "has", "have", "can", "should", "could", "who"})
_ASKED = frozenset({
    "it", "that", "the", "this", "these", "we", "i", "they", "you", "my", "our", "there", "he", "she", "everybody",
    "everyone", "anybody", "anyone", "says", "said", "cares",
})  # fmt: skip
_FRESH = frozenset({
    "i", "we", "the", "it", "my", "this", "that", "then", "now", "you", "they", "he", "she", "both", "all",
    "wheels", "engine", "brakes", "parking", "trailer", "needles", "nobody",
})  # fmt: skip
_DETERMINERS = frozenset({"the", "my", "our", "this", "that", "it", "i", "we", "a"})
_PLACES = _DETERMINERS | {"us", "me", "any", "each", "every"}
_KNOWERS = frozenset({"i", "you", "we", "they", "to", "do", "not", "who", "did", "would", "must", "should"})
_VOIDS = frozenset({
    "care", "cares", "mind", "minds", "matter", "matters", "object", "objects", "need", "rule", "law", "keeps",
    "asks", "demands", "requires", "forbids", "believe", "think", "agree", "needed", "required", "necessary",
    "important", "asking", "checking", "problem", "problems", "trouble", "fault", "harm", "issue", "worry", "worries",
    "bother", "bothers", "complaint", "concern",
})  # fmt: skip
_LINKS = frozenset({"is", "are", "be", "really", "one"})
_SINGLE = frozenset({"no", "nobody", "nothing"})
_TROUBLES = frozenset({"problem", "problems", "issue", "issues", "trouble", "question", "worries", "complaints"})
_WAITS = frozenset({"wait", "sorry", "actually", "hang", "hold", "well"})
_THERE = frozenset({"there", "here", "at", "all"})
_NOTHING = frozenset({"nothing", "none", "nobody"})
_ANEW = frozenset({"it", "that", "this", "she", "he", "they"})
_OWNED = frozenset({"the", "my", "our"})
_WITHIN = frozenset({"of", "in", "on", "with", "for", "from", "about", "to"})
_SIDES = frozenset({"upper", "lower"})
_KEEPS = frozenset({"let", "letting", "lets", "ease", "easing", "lift", "lifting"})
ELLIPTIC = frozenset({
    "i", "we", "it", "they", "you", "she", "he", "that", "this", "there", "is", "are", "was", "were", "did",
    "do", "does", "had", "have", "has", "could", "can", "would", "should", "will", "am", "not", "none", "no",
    "now", "yet", "still", "skip", "time", "but", "one", "the", "other", "others",
})  # fmt: skip
ALWAYS = frozenset(
    {".", "?", "but", "so", "because", "since", "until", "till", "then", "while", "which", "otherwise", "next", "now"}
)
MAYBE = frozenset({",", "and", "or"})


def clauses(words: Sequence[str]) -> list[tuple[int, int]]:
    """The spans that a negation can't leave. "and" and a comma end one only before a new subject, "anything
    but" none."""
    spans, begin = [], 0
    for at, word in enumerate(words):
        after = words[at + 1] if at + 1 < len(words) else "."
        if word == "but" and "anything" in words[max(0, at - 1) : at]:
            continue
        if word in ALWAYS or (word in MAYBE and after in _FRESH):
            spans.append((begin, at))
            begin = at + 1
    spans.append((begin, len(words)))
    return [span for span in spans if span[0] < span[1]]


def denied(words: Sequence[str], used: frozenset[int] | set[int], span: tuple[int, int], *, now: bool = True) -> bool:
    """Whether the clause is denied. `used`: places that belong to a bound or to the wording itself ("no more than",
    "nobody near"). `now`: what is put off is denied. "Do not forget to" affirms."""
    nots = [at for at in range(*span) if at not in used and _negates(words, at)]
    lacks = [at for at in range(*span) if at not in used and words[at] in _LACK]
    if now and any(_puts_off(words, at, span) for at in range(*span) if at not in used):
        return True
    return bool(nots or lacks) and not (len(nots) == len(lacks) == 1 and (nots < lacks or words[lacks[0]] == "unless"))


def starts_anew(words: Sequence[str]) -> bool:
    """Whether a sentence of its own begins behind the negation that these words begin with: "no good it", "no the
    test". Speech has no commas. "Nothing that" goes on, and so does "nothing in the test"."""
    if any(word in _ANEW and (word != "that" or words[0] not in _NOTHING) for word in words[1:]):
        return True
    return any(word in _OWNED and before not in _WITHIN for before, word in pairwise(words[:-1]))


def puts_off(words: Sequence[str]) -> bool:
    """Whether the sentence denies without a negation: "far from empty around us"."""
    return any(_puts_off(words, at, (0, len(words))) for at in range(len(words)))


def _negates(words: Sequence[str], at: int) -> bool:
    """What the ears take for "know" without anybody who knows is a "no"."""
    if words[at] == "know":
        return at == 0 or words[at - 1] not in _KNOWERS
    if _keeps_on(words, at) or _goes_on(words, at):
        return False
    return words[at] in NOT and not (words[at] == "no" and _answers(words[at + 1 :]))


def _answers(after: Sequence[str]) -> bool:
    """Whether a "no" before these words answers something else, or only says that all is well: "no, the chocks are in"
    (ears take "now the" for it), "no wait it flunked", "no problem there it is a pass"."""
    if after and after[0] in _TROUBLES:
        after = [word for word in after[1:4] if word not in _THERE]
    elif after and after[0] in _WAITS:
        after = after[1:2]
    return bool(after) and after[0] in _DETERMINERS


def _puts_off(words: Sequence[str], at: int, span: tuple[int, int]) -> bool:
    """Whether words that begin here deny without a negation: "anything but full", "too early to pump"."""
    if words[at] in ("later", "afterwards"):
        return at in (span[0], span[1] - 1) and words[max(0, at - 1)] not in NOT
    found = next((one for one in _PUT_OFF if tuple(words[at : at + len(one)]) == one), None)
    after = words[at + 2 : at + 3]
    return found is not None and not (found == _FAR and after and after[0] in _PLACES)


def is_question(words: Sequence[str]) -> bool:
    """Whether a sentence only asks, by the order of its words: no stop is heard in speech. "Is it, yes" answers."""
    return len(words) > 1 and words[0] in _ASKING and words[1] in _ASKED and "yes" not in words


def declines(words: Sequence[str]) -> bool:
    """Whether a sentence says that a test is not done ("i am not doing the leak test"), and does not only tell it by
    what is not ("the leak test without the foot")."""
    return any(
        word in _DECLINED or (word in NOT and _DOING & set(words[at + 1 : at + 4])) for at, word in enumerate(words)
    )


def is_unseen(words: Sequence[str]) -> bool:
    """Whether a sentence may say that nobody looked, or what was so before: "nobody checked", "it was clear, but"."""
    return is_unlooked(words) or "but" in words


def voids(words: Sequence[str], at: int) -> bool:
    """Whether this negation makes a bound void and does not belong to it: "i do not care if it goes over 140", "no
    rule says more than 4", "no upper limit". ("It does not need more than 45 seconds" bounds.)"""
    after = [word for word in words[at + 1 : at + 4] if word not in _LINKS][:2]
    if not after or words[at] not in NOT:
        return False
    sides = after[0] in _SIDES and list(after[1:]) != ["than"]
    return sides or (after[0] in _VOIDS and (words[at] in _SINGLE or after[0] != "need"))


def is_unlooked(words: Sequence[str]) -> bool:
    """Whether a sentence says that nobody looked: "nobody checked around the truck"."""
    return any(word in NOT and _LOOKING & set(words[at + 1 : at + 4]) for at, word in enumerate(words))


def _goes_on(words: Sequence[str], at: int) -> bool:
    """ "I do not stop fanning"."""
    return (
        words[at] == "not"
        and list(words[at + 1 : at + 2]) == ["stop"]
        and "".join(words[at + 2 : at + 3]).endswith("ing")
    )


def _keeps_on(words: Sequence[str], at: int) -> bool:
    """ "I press the pedal and do not let go"."""
    before = next((word for word in reversed(words[:at]) if word not in ELLIPTIC), "")
    return words[at] == "not" and before in (",", "and") and bool(_KEEPS & set(words[at + 1 : at + 3]))


def is_denial(word: str) -> bool:
    """Whether the word denies; such words have no likeness."""
    return word in NOT or word in _LACK
