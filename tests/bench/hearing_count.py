"""What the measurement of hearing counts, and how it is shown: shares with 95 % Wilson intervals, and paired counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tests.bench.hearing_ears import Found
from tests.bench.hearing_speech import NO_READING, Spoken
from tests.bench.shares import share

READINGS = ("reading", "two needles")


@dataclass(frozen=True)
class Trial:
    """One ear on one sound. `said`: without its sound. `spent`: seconds of the processor; `length`: of the sound."""

    condition: str
    ear: str
    said: Spoken
    found: Found
    spent: float
    length: float


def outcome(said: Spoken, found: Found) -> str:
    """right: all that was said, at first hearing. wrong: a value was accepted that was not said, or the opposite was
    done. asked: it is asked again. ignored: taken for talk, or for a report."""
    if found.kind == "reading":
        if not said.values:
            return "wrong"
        missing = Counter(said.values) - Counter(found.values)
        extra = Counter(found.values) - Counter(said.values)
        return "wrong" if extra else "asked" if missing else "right"
    if said.values:
        return {"asked": "asked", "taken back": "wrong"}.get(found.kind, "ignored")
    if said.withdraws or said.moment_s is not None:
        wanted = "taken back" if said.withdraws else "moment"
        return "right" if found.kind == wanted else "asked" if found.kind == "asked" else "ignored"
    return "wrong" if found.kind == "taken back" else found.kind


def report(trials: Sequence[Trial]) -> str:
    """All tables."""
    conditions = list(dict.fromkeys(trial.condition for trial in trials))
    ears = list(dict.fromkeys(trial.ear for trial in trials))
    lines = ["", "Readings, and what is no reading:"]
    for condition in conditions:
        here = [trial for trial in trials if trial.condition == condition]
        lines += [_row(condition, ear, [trial for trial in here if trial.ear == ear]) for ear in ears]
        lines += _paired(here, ears)
    ours = [trial for trial in trials if trial.ear == ears[0]]
    return "\n".join([*lines, *_by_kind(ours, conditions), *_moments(ours, conditions), *_cost(trials, ears)])


def _row(condition: str, ear: str, trials: Sequence[Trial]) -> str:
    found = Counter(outcome(trial.said, trial.found) for trial in trials if trial.said.kind in READINGS)
    none = Counter(outcome(trial.said, trial.found) for trial in trials if trial.said.kind in NO_READING)
    return (
        f"{condition:14} {ear:14} right {share(found['right'], found.total())}"
        f"  wrong {share(found['wrong'], found.total())}  asked {found['asked']:3}  ignored {found['ignored']:3}"
        f"  |  no reading: accepted {share(none['wrong'], none.total())}  asked {none['asked']:2}"
        f"  other {none['other']:2}"
    )


def _paired(trials: Sequence[Trial], ears: Sequence[str]) -> list[str]:
    """Ours against each of the others on the same sounds: how many only one of the two got right."""
    by_ear = {ear: [outcome(trial.said, trial.found) == "right" for trial in trials if _is(trial, ear)] for ear in ears}
    ours, *others = ears
    return [
        f"{'':14} only right by {ours}: {_only(by_ear[ours], by_ear[other])};"
        f" only by {other}: {_only(by_ear[other], by_ear[ours])}"
        for other in others
    ]


def _is(trial: Trial, ear: str) -> bool:
    return trial.ear == ear and trial.said.kind in READINGS


def _only(these: Iterable[bool], those: Iterable[bool]) -> int:
    return sum(this and not that for this, that in zip(these, those, strict=True))


def _by_kind(trials: Sequence[Trial], conditions: Sequence[str]) -> list[str]:
    kinds = [kind for kind in dict.fromkeys(trial.said.kind for trial in trials) if kind not in READINGS]
    lines = ["", "Our ears, by what was said:"]
    for condition in conditions:
        for kind in kinds:
            here = [trial for trial in trials if (trial.condition, trial.said.kind) == (condition, kind)]
            found = Counter(outcome(trial.said, trial.found) for trial in here)
            told = "  ".join(f"{name} {count}" for name, count in sorted(found.items()))
            lines.append(f"{condition:14} {kind:16} of {len(here):3}: {told}")
    return lines


def _moments(trials: Sequence[Trial], conditions: Sequence[str]) -> list[str]:
    lines = ["", "Start and mark: how far the time of the word is from where it was put, ms:"]
    for condition in conditions:
        off = sorted(
            1000 * (trial.found.moment_s - trial.said.moment_s)
            for trial in trials
            if trial.condition == condition and trial.said.moment_s is not None and trial.found.moment_s is not None
        )
        if off:
            sizes = sorted(abs(one) for one in off)
            lines.append(
                f"{condition:14} of {len(off)}: median {off[len(off) // 2]:+.0f}, size: 95 % below"
                f" {sizes[min(len(sizes) - 1, int(0.95 * len(sizes)))]:.0f}, largest {sizes[-1]:.0f}"
            )
    return lines


def _cost(trials: Sequence[Trial], ears: Sequence[str]) -> list[str]:
    lines = ["", "Processor time as a part of real time:"]
    for ear in ears:
        mine = [trial for trial in trials if trial.ear == ear]
        factor = sum(trial.spent for trial in mine) / sum(trial.length for trial in mine)
        lines.append(f"{ear:14} {factor:.3f}")
    return lines
