"""The recitals of each trainee: their marks over time, and what is left out most.

Law: the marks are those that stand in the log, by the rules of then; they are compared only as shares of what could be
had, because another vehicle or standard asks for another number of elements.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from assistant.core.events import Effect, Line, Marked, Record, Say
from assistant.review.story import Wording

SCORE = "recital.score"
"""The line of the debrief that says the points."""
_MOST = 5


class Recited(Record):
    """What a recital came to. `points` of `total`: less than one for each element said, for faults of order and safety
    cost one each. `missed`: the elements that were not said, said wrong or denied."""

    points: int
    total: int
    missed: tuple[str, ...]


class Sitting(Record):
    """One recital of a trainee. `share`: points of total, 0 to 1; `day`: as in Check."""

    log: str
    created: str
    day: float
    standard: str
    points: int
    total: int
    share: float


class Trainee(Record):
    """All recitals of one trainee, oldest first. `missed`: the elements that were most often not said right, with how
    often."""

    name: str
    recitals: tuple[Sitting, ...]
    missed: tuple[tuple[str, int], ...]


def recited(effects: Sequence[Effect]) -> Recited | None:
    """The marks among the effects of a log; None when it did not come to its debrief."""
    marks = [effect for effect in effects if isinstance(effect, Marked)]
    lines = [line for effect in effects if isinstance(effect, Say) for line in effect.lines if line.prompt == SCORE]
    points, total = (lines[-1].values.get(name) for name in ("points", "total")) if lines else (None, None)
    if not isinstance(points, int) or not isinstance(total, int) or total < 1:
        return None
    return Recited(points=points, total=total, missed=tuple(mark.element for mark in marks if mark.state != "said"))


def trainees(sittings: Iterable[tuple[str, Sitting, Recited]]) -> tuple[Trainee, ...]:
    """By name. `sittings`: the name of the trainee with each recital, oldest first."""
    by_name: dict[str, list[tuple[Sitting, Recited]]] = {}
    for name, sitting, marks in sittings:
        by_name.setdefault(name, []).append((sitting, marks))
    return tuple(
        Trainee(
            name=name,
            recitals=tuple(sitting for sitting, _ in done),
            missed=tuple(Counter(element for _, marks in done for element in marks.missed).most_common(_MOST)),
        )
        for name, done in sorted(by_name.items())
    )


def to_say(element: str, wording: Wording) -> str:
    """What had to be said, in words: "say that the wheels are chocked"."""
    test, _, part = element.rpartition(".")
    line = (
        Line(prompt=f"element.fact-{part}") if test == "fact" else Line(prompt=f"element.{part}", values={"test": test})
    )
    return wording.full(line).rstrip(".?")
