"""The report as one page that needs nothing else: no network, no script, no file beside it."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined

from assistant.core.standard import Standard
from assistant.review.course import Row, shown
from assistant.review.report.charts import chart
from assistant.review.report.results import Finding, Results

_SLOTS = {"at": "", "first": "first", "last": "last", "at least": "before moving", "below": "before it"}
_HEADLINES = {
    "fail": "Do not drive",
    "open": "Not complete",
    "pass": "Every test passed",
}


@dataclass(frozen=True)
class Wording:
    """Sentences of the assistant that the page repeats, from prompts/."""

    caution: str
    failed: str
    open: str
    passed: str


def render(
    results: Results, standard: Standard, timeline: Iterable[Row], wording: Wording, sounds: Mapping[str, bytes]
) -> str:
    """The page as HTML. `sounds`: kept utterances by SHA-256, put into the page; empty: none."""
    environment = Environment(
        loader=PackageLoader("assistant.review.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"clock": _clock, "day": _day, "readings": _readings, "margin": _margin}
    vehicle = results.setup.vehicle
    standing = "fail" if results.with_outcome("fail") else "pass" if _all_passed(results) else "open"
    sentence = {"fail": wording.failed, "pass": wording.passed, "open": wording.open}[standing]
    return environment.get_template("page.html.j2").render(
        results=results,
        trust=results.trust,
        standing=standing,
        headline=_HEADLINES[standing],
        sentence=sentence,
        caution=wording.caution,
        charts={one.test: chart(one, standard.limit(one.test, vehicle)) for one in results.findings},
        timeline=tuple(timeline),
        sounds={sha: base64.b64encode(content).decode() for sha, content in sounds.items()},
    )


def _all_passed(results: Results) -> bool:
    return results.complete and all(one.outcome == "pass" for one in results.findings)


def _clock(at_ms: int) -> str:
    return f"{at_ms // 60_000}:{at_ms // 1000 % 60:02d}"


def _day(wall: str) -> str:
    """2026-11-25T22:42:18.266+00:00 -> 2026-11-25, 22:42 (UTC+00:00)."""
    return f"{wall[:10]}, {wall[11:16]} (UTC{wall[-6:]})"


def _readings(finding: Finding) -> list[tuple[str, str]]:
    """Each slot's name and its readings in words; a single one at an event stands in the reason already."""
    return [
        (_SLOTS[slot], shown(readings))
        for slot, readings in finding.readings.items()
        if readings and not (slot == "at" and len(readings) == 1)
    ]


def _margin(finding: Finding) -> str:
    return "" if finding.margin is None else f"{finding.margin:+g} {finding.unit or ''}".strip()
