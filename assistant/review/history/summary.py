"""The history in numbers: which checks are meant, and what they come to by vehicle, driver, day or standard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Literal

from assistant.core.events import Record, TestId
from assistant.review.history.reading import Check, Damaged
from assistant.review.history.trainee import Recited, Sitting, Trainee, trainees
from assistant.review.history.trend import Trend
from assistant.review.spreadsheet import table

By = Literal["vehicle", "driver", "date", "standard"]
COLUMNS = ("log", "created", "fleet_number", "vehicle_class", "driver", "standard", "mode", "head", "sealed",
           "asked_again", "corrections", "test", "outcome", "value", "margin", "unit", "limit", "reason")  # fmt: skip
PRACTICE = ("rehearsal", "recital")
_KEYS: dict[By, Callable[[Check], str]] = {
    "vehicle": lambda check: check.fleet_number or "(no number)",
    "driver": lambda check: check.driver or "(no name)",
    "date": lambda check: check.created[:10],
    "standard": lambda check: check.standard,
}


class Wanted(Record):
    """Which checks are meant; None: every. `since`, `until`: days as 2026-03-02, both included. `rehearsals`: also
    those on a simulated vehicle."""

    vehicle: str | None = None
    driver: str | None = None
    standard: str | None = None
    since: str | None = None
    until: str | None = None
    rehearsals: bool = False

    def takes(self, check: Check) -> bool:
        """Whether a check is meant."""
        return check.mode != "recital" and (self.rehearsals or check.mode != "rehearsal") and self._covers(check)

    def takes_recital(self, check: Check) -> bool:
        """Whether it is a recital that is meant."""
        return check.mode == "recital" and self._covers(check)

    def _covers(self, check: Check) -> bool:
        day = check.created[:10]
        return (
            self.vehicle in (None, check.fleet_number)
            and self.driver in (None, check.driver)
            and self.standard in (None, check.standard)
            and (self.since is None or day >= self.since)
            and (self.until is None or day <= self.until)
        )


class Summary(Record):
    """Several checks together. `failed`: checks with at least one failed test; `open`: checks without a failed test but
    with one not judged; `missed`: the tests that most often were not passed, with how often."""

    key: str
    checks: int
    failed: int
    open: int
    asked_again: float
    last: str
    missed: tuple[tuple[TestId, int], ...]


class History(Record):
    """The published format of `gladhand history --json`. `trends`: those that reach their limit first in front.
    `practice`: rehearsals and recitals that are no checks and were left out of them. `trainees`: the marks of the
    recitals, by who talked."""

    format: Literal["gladhand history 1"] = "gladhand history 1"
    folder: str
    wanted: Wanted
    by: By
    summaries: tuple[Summary, ...]
    trends: tuple[Trend, ...]
    checks: tuple[Check, ...]
    damaged: tuple[Damaged, ...]
    practice: int = 0
    trainees: tuple[Trainee, ...] = ()


def counted(history: History) -> str:
    """How many checks, and from the first day to the last."""
    if not history.checks:
        return "No checks"
    first, last = history.checks[0].created[:10], history.checks[-1].created[:10]
    many = "1 check" if len(history.checks) == 1 else f"{len(history.checks)} checks"
    return f"{many}, {first}" if first == last else f"{many}, {first} to {last}"


def summaries(checks: Iterable[Check], by: By) -> tuple[Summary, ...]:
    """The checks in groups, in the order of the group's name."""
    groups: dict[str, list[Check]] = {}
    for check in checks:
        groups.setdefault(_KEYS[by](check), []).append(check)
    return tuple(_summary(key, groups[key]) for key in sorted(groups))


def by_trainee(checks: Iterable[Check], wanted: Wanted) -> tuple[Trainee, ...]:
    """The recitals among `checks` that are meant, oldest first, by trainee."""
    return trainees(
        (_KEYS["driver"](check), _sitting(check, check.recited), check.recited)
        for check in checks
        if check.recited and wanted.takes_recital(check)
    )


def as_csv(checks: Iterable[Check]) -> str:
    """One row for each test of each check, with `COLUMNS` as the first row."""
    whole = ((check.model_dump(exclude={"tests", "day", "recited"}), check.tests) for check in checks)
    return table(COLUMNS, ({**about, **found.model_dump()} for about, tests in whole for found in tests))


def _sitting(check: Check, marks: Recited) -> Sitting:
    return Sitting(
        log=check.log,
        created=check.created,
        day=check.day,
        standard=check.standard,
        points=marks.points,
        total=marks.total,
        share=round(marks.points / marks.total, 3),
    )


def _summary(key: str, checks: Sequence[Check]) -> Summary:
    failed = [check for check in checks if check.counted("fail")]
    still_open = [check for check in checks if not check.counted("fail") and check.counted("not judged")]
    missed = Counter(found.test for check in checks for found in check.tests if found.outcome != "pass")
    return Summary(
        key=key,
        checks=len(checks),
        failed=len(failed),
        open=len(still_open),
        asked_again=round(sum(check.asked_again for check in checks) / len(checks), 2),
        last=checks[-1].created,
        missed=tuple(missed.most_common(3)),
    )
