"""From what was observed in one test to its verdict.

Law: pure, total and in this order: was it done, does the vehicle have it, does the standard have it, can the readings
be true, what do they show. Whatever is missing or odd ends in "not judged" with a reason, never in a pass and never in
an exception.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from assistant.core.events import Line, Observation, TestId, Vehicle, Verdict
from assistant.core.limit import Limit
from assistant.core.plausible import impossible
from assistant.core.standard import Standard
from assistant.core.verdicts.answer import judge_answer
from assistant.core.verdicts.finding import Case, Finding, line, not_judged
from assistant.core.verdicts.loss import judge_loss
from assistant.core.verdicts.pressure import judge_pop_out, judge_pressure, judge_warning
from assistant.core.verdicts.rise import judge_rise

_JUDGES: dict[TestId, Callable[[Case], Finding]] = {
    "build-up": judge_rise,
    "governor-cut-out": judge_pressure,
    "governor-cut-in": judge_pressure,
    "static-leakage": judge_loss,
    "applied-leakage": judge_loss,
    "low-air-warning": judge_warning,
    "trailer-supply-pop-out": judge_pop_out,
    "parking-valve-pop-out": judge_pop_out,
    "parking-brake": judge_answer,
    "trailer-brake": judge_answer,
    "hand-valve": judge_answer,
    "service-brake": judge_answer,
}
_NOT_DONE = ("not-fitted", "not-safe", "no-time", "cannot", "stopped")
# A vehicle rolls only with these in order; the governor may wait, and the service brake is the last test.
_BEFORE_ROLLING: tuple[TestId, ...] = (
    "build-up",
    "static-leakage",
    "applied-leakage",
    "low-air-warning",
    "trailer-supply-pop-out",
    "parking-valve-pop-out",
    "parking-brake",
    "trailer-brake",
)
# Not judged for a reason that says nothing about this vehicle's brakes.
_HARMLESS = (
    "not-done.not-fitted",
    "verdict.not-part",
    "verdict.no-figure",
    "verdict.no-figure-for-loss",
    "verdict.no-figure-for-time",
    "verdict.may-not-pop",
)


def evaluate(
    observation: Observation, standard: Standard, vehicle: Vehicle, earlier: Mapping[TestId, Observation]
) -> Verdict:
    """The verdict on one test. `earlier`: what the tests before it showed, by test."""
    test = observation.test
    limit = standard.limit(test, vehicle)
    found = _undone(observation) or _not_there(test, standard, vehicle, limit)
    if found is None and limit is not None:
        wrong = impossible(observation, earlier)
        case = Case(observation, limit, standard, vehicle, earlier)
        found = Finding("not judged", wrong) if wrong else _JUDGES[test](case)
    assert found is not None
    return _verdict(found, limit, standard, vehicle, test)


def bars_movement(verdict: Verdict) -> bool:
    """Whether the vehicle must not roll after this: something that holds or stops it failed, or nobody knows.

    A hand valve that failed or does not work bars what comes after it; left undone otherwise it bars nothing.
    """
    if verdict.test == "hand-valve":
        return verdict.outcome == "fail" or verdict.reason.prompt == "not-done.cannot"
    if verdict.test not in _BEFORE_ROLLING or verdict.outcome == "pass":
        return False
    return verdict.outcome == "fail" or verdict.reason.prompt not in _HARMLESS


def _undone(observation: Observation) -> Finding | None:
    reason = observation.not_done
    if reason is None:
        return None
    if reason.startswith("barred-by:"):
        return not_judged("not-done.barred", by=reason.removeprefix("barred-by:"))
    if reason in _NOT_DONE:
        return not_judged(f"not-done.{reason}")
    return not_judged("not-done.other", why=reason)


def _not_there(test: TestId, standard: Standard, vehicle: Vehicle, limit: Limit | None) -> Finding | None:
    if not standard.fitted(test, vehicle):
        return not_judged("not-done.not-fitted")
    return not_judged("verdict.not-part") if limit is None else None


def _verdict(found: Finding, limit: Limit | None, standard: Standard, vehicle: Vehicle, test: TestId) -> Verdict:
    notes = (*found.notes, *_maker_note(limit, standard, vehicle, test))
    return Verdict(
        test=test,
        outcome=found.outcome,
        limit=_limit_text(limit),
        margin=None if found.margin is None else float(round(found.margin, 3)),
        unit=found.unit,
        reason=found.reason,
        source=limit.cited() if limit else f"{standard.title}, {standard.edition}",
        consequence=limit.consequence if limit and found.outcome == "fail" else None,
        needle=found.needle,
        notes=notes,
    )


def _limit_text(limit: Limit | None) -> str:
    if limit is None:
        return "not part of this standard"
    return f"{limit.text()}, the maker's figure" if limit.sure == "maker" else limit.text()


def _maker_note(limit: Limit | None, standard: Standard, vehicle: Vehicle, test: TestId) -> tuple[Line, ...]:
    """A maker's figure that was given and does not count has to be known."""
    figure = standard.maker_figure(test, vehicle)
    return (line("note.maker-not-used"),) if figure and limit and limit.sure != "maker" else ()
