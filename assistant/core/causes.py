"""Usual causes of a failed test, as things for a qualified person to look at, never as advice to repair.

Law: general knowledge of the trade (common practice, no source), worded in prompts/.
"""

from __future__ import annotations

from collections.abc import Mapping

from assistant.core.events import Line, TestId, Verdict

# Where the way in which a test failed points to different parts: by the prompt of the verdict's reason.
_BY_REASON: dict[tuple[TestId, str], str] = {
    ("governor-cut-out", "verdict.below"): "cause.cut-out-low",
    ("low-air-warning", "verdict.no-light"): "cause.warning-light",
    ("low-air-warning", "verdict.above"): "cause.warning-early",
    ("trailer-supply-pop-out", "verdict.did-not-pop"): "cause.no-pop-out",
    ("parking-valve-pop-out", "verdict.did-not-pop"): "cause.no-pop-out",
    ("trailer-supply-pop-out", "verdict.below"): "cause.no-pop-out",
    ("parking-valve-pop-out", "verdict.below"): "cause.no-pop-out",
}
_BY_TEST: dict[TestId, str] = {
    "build-up": "cause.build-up",
    "governor-cut-out": "cause.cut-out-high",
    "governor-cut-in": "cause.cut-in",
    "static-leakage": "cause.static-leakage",
    "applied-leakage": "cause.applied-leakage",
    "low-air-warning": "cause.warning-late",
    "trailer-supply-pop-out": "cause.pop-out-early",
    "parking-valve-pop-out": "cause.pop-out-early",
    "parking-brake": "cause.parking-brake",
    "trailer-brake": "cause.trailer-brake",
    "hand-valve": "cause.hand-valve",
    "service-brake": "cause.service-brake",
}


def causes(verdict: Verdict, verdicts: Mapping[TestId, Verdict] | None = None) -> tuple[Line, ...]:
    """What usually causes this failure, one sentence each; empty unless the test failed.

    `verdicts`: of the other tests: a leak with the brakes applied may be the same one as without.
    """
    if verdict.outcome != "fail":
        return ()
    found = [_BY_REASON.get((verdict.test, verdict.reason.prompt), _BY_TEST[verdict.test])]
    static = (verdicts or {}).get("static-leakage")
    if verdict.test == "applied-leakage" and (static is None or static.outcome != "pass"):
        found.append("cause.static-leakage")
    if verdict.test in ("static-leakage", "applied-leakage"):
        found.append("cause.trailer-leakage")
    return tuple(Line(prompt=prompt) for prompt in found)
