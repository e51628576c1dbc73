"""The verdicts as they are written in a log, and the figures in them; whether they stand is another question."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.core.events import Judged, TestId, Verdict
from assistant.log import Entry


def written_verdicts(entries: Iterable[Entry]) -> dict[TestId, Verdict]:
    """The last verdict on each test in the log, whether it stands or not."""
    return {
        effect.verdict.test: effect.verdict
        for entry in entries
        for effect in entry.effects
        if isinstance(effect, Judged)
    }


def compared(verdict: Verdict | None) -> tuple[float | None, float | None]:
    """What was compared with the limit, and the seconds of a rise, both from the values of the verdict's reason."""
    if verdict is None:
        return None, None
    values = verdict.reason.values
    seconds = values.get("seconds")
    timed = float(seconds) if isinstance(seconds, int | float) else None
    read = values.get("loss") or values.get("at")
    if isinstance(read, tuple) and read:
        return read[0].value, timed
    return timed if verdict.unit == "s" else None, timed
