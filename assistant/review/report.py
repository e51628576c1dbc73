"""The report of a check: one page that needs no network, no script and no other file.

Law: everything on it was computed from the log; what the log does not tell stays blank, to be filled in by hand.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from functools import partial
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from assistant.core.events import Heard, Outcome
from assistant.core.limit import Limit
from assistant.core.prompts import clock
from assistant.log import wall_time
from assistant.review import charts, overview
from assistant.review.examined import Examined, Integrity
from assistant.review.results import Result, Results
from assistant.review.story import Moment, Wording, doubts, spelled, tell

PAGES = Path(__file__).resolve().parent / "pages"
MARKS: dict[Outcome, str] = {"pass": "\u2713", "fail": "\u2717", "not judged": "?"}
"""Beside each word, so that neither colour nor sign stands alone."""


def page(seen: Examined, found: Results, wording: Wording, *, timeline: bool = True, sound: bool = True) -> str:
    """The report as HTML. `timeline`: with every moment of the check; `sound`: with the utterances that were kept."""
    moments = tell(seen.session.entries, wording)
    failed = [test for test in found.tests if test.outcome == "fail"]
    limit = partial(_limit, seen)
    drawn = {test.test: Markup(charts.draw(test, limit(test))) for test in found.tests}
    stood = overview.trace(seen.session.entries)

    def sounds(heard: Heard) -> str:
        data = seen.sounds.of(heard) if sound else None
        return base64.b64encode(data).decode() if data else ""

    return template("report.html.j2").render(
        found=found,
        day=day_of(found.created),
        style=style(),
        facts=_facts(found),
        tone=_tone(found),
        headline=headline(found),
        meaning=_next_step(found),
        consequences=list(dict.fromkeys(test.consequence for test in failed if test.consequence)),
        integrity=integrity_line(found.integrity),
        marks=MARKS,
        spelled=spelled,
        charts=drawn,
        overview=Markup(overview.draw(found.tests, found.spoken_unit, limit, stood)),
        traced=bool(stood),
        failed=failed,
        fallen={test.test for test in found.tests if test.written},
        asks=[moment for moment in moments if moment.again or moment.replaces or moment.mends],
        trust=_trust(found),
        form=_form(found, failed),
        timeline=list(_sections(moments, found)) if timeline else [],
        clock=clock,
        doubts=doubts,
        sounds=sounds,
    )


def _limit(seen: Examined, test: Result) -> Limit | None:
    """The limit to draw; None when the standard is no longer the one of the check."""
    if "standard" in seen.integrity.changed_since:
        return None
    return seen.dialogue.standard.limit(test.test, seen.session.header.setup.vehicle)


def template(name: str) -> Template:
    """A page of pages/; every value is escaped, and a missing one is an error."""
    house = Environment(loader=FileSystemLoader(PAGES), autoescape=True, undefined=StrictUndefined)
    return house.get_template(name)


def style() -> Markup:
    """The one style of all pages."""
    return Markup((PAGES / "page.css").read_text(encoding="utf-8"))


def headline(found: Results) -> str:
    """The result in one sentence."""
    counts = [f"{found.counted('pass')} passed", f"{found.counted('fail')} failed"]
    counts.append(f"{found.counted('not judged')} not judged")
    return f"{'Check complete' if found.complete else 'Check not complete'}: {', '.join(counts)}"


def _next_step(found: Results) -> str:
    """What a driver does now."""
    if not found.integrity.holds:
        return "The log of this check does not hold, so nothing here is proven: see below, and do the check again."
    if found.counted("fail"):
        return "Do not drive before a qualified person has seen to what failed; the local rule decides."
    return "What was not judged is not a pass: repeat it." if found.counted("not judged") else ""


def integrity_line(integrity: Integrity) -> str:
    """Whether the log holds, in one sentence or two."""
    if integrity.fault is not None:
        return f"NOT VERIFIED. {integrity.fault} Only what stands before that is shown, and none of it is proven."
    if integrity.difference is not None:
        return f"NOT VERIFIED. Every link holds, but: {integrity.difference}"
    count = integrity.sounds
    if count.changed or count.missing:
        return (
            f"NOT VERIFIED. The log holds and recomputes, but of {count.kept} kept utterances {count.changed} have "
            f"changed and {count.missing} are missing."
        )
    if integrity.torn:
        return f"NOT VERIFIED. The end of the log is torn off; {integrity.entries} entries before it hold."
    sealed = "sealed" if integrity.sealed else "not sealed: its end may be missing"
    sounds = f", {count.whole} utterances have the hash in the log" if count.kept else ""
    same = f"all {integrity.entries} entries are linked, every verdict was computed again and is the same{sounds}"
    return f"Verified: {same}. The log is {sealed}. Head {integrity.head}."


def day_of(created: str) -> str:
    """Wall time as a person writes it."""
    at = wall_time(created)
    return f"{at.day} {at:%B %Y}, {at:%H:%M}"


def _tone(found: Results) -> str:
    if found.counted("fail") or not found.integrity.holds:
        return "fail"
    return "not-judged" if found.counted("not judged") or not found.complete else "pass"


def _facts(found: Results) -> list[tuple[str, str | None]]:
    vehicle = found.vehicle
    gauge = f"{vehicle.needles} needle{'s' if vehicle.needles > 1 else ''}"
    gauge += f", marks every {vehicle.gauge_mark:g}" if vehicle.gauge_mark else ", distance of marks not told"
    return [
        ("Driver", found.driver),
        ("Vehicle", f"{vehicle.vehicle_class}, built {vehicle.built}"),
        ("Route", found.route),
        ("Gauge", gauge),
        ("Done", {"live": "live, by voice", "recording": "from a recording"}.get(found.mode, found.mode)),
        ("Lasted", f"{clock(round(found.lasted_s * 1000))} min"),
    ]


def _trust(found: Results) -> list[str]:
    """What a reader has to know before believing the page."""
    told = []
    if found.integrity.changed_since:
        names = ", ".join(found.integrity.changed_since)
        told.append(f"Changed in the program since this check: {names}. Verdicts and limits are those of then.")
    if not found.integrity.sounds.kept:
        told.append("No sound was kept: what was heard can't be listened to.")
    if found.vehicle.gauge_mark is None:
        told.append("The distance of the gauge's marks was not told, so readings count as exact.")
    unsure = [test.name for test in found.tests if any(word in test.source for word in ("not checked", "no source"))]
    if unsure:
        which = "every one" if len(unsure) == len(found.tests) else ", ".join(unsure)
        told.append(f"Limits without a checked source: {which}.")
    told.append("The chain shows changes, not who made them: compare the head with one kept elsewhere.")
    return told


def _form(found: Results, failed: list[Result]) -> list[tuple[str, str | None]]:
    """The fields of an inspection report; None: to be filled in by hand."""
    defects = "; ".join(f"{test.name}: {test.reason.rstrip('.')}" for test in failed)
    clean = found.complete and found.counted("pass") == len(found.tests) and found.integrity.holds
    none = "None found in this check." if clean else None
    return [
        ("Unit or plate", found.fleet_number),
        ("Plate of each trailer", None),
        ("Carrier or operator", None),
        ("Date and time", day_of(found.created)),
        ("Place (municipality or highway location)", None),
        ("Odometer or hub reading", None),
        ("Inspected by (printed name)", found.driver),
        ("Driver, if another person", None),
        ("Defects found", defects or none),
        ("Inspected as the rule requires: signature of inspector", None),
        ("Signature of driver", None),
        ("Repaired, or repair not needed: by, date", None),
        ("Certified: signature", None),
        ("Next driver has reviewed: signature, date", None),
    ]


def _sections(moments: tuple[Moment, ...], found: Results) -> Iterator[tuple[str, Outcome | None, list[Moment]]]:
    """The moments test by test, in the order they happened."""
    by_test = {test.test: test for test in found.tests}
    for test, group in groupby(moments, key=lambda moment: moment.test):
        result = by_test.get(test) if test else None
        yield result.name if result else "the end", result.outcome if result else None, list(group)
