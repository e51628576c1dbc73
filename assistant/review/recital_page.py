"""The page of a recital: what was said, missed, wrong and denied, with the words and their time.

Law: as in `report`, everything on it was computed from the log, and it says first of all whether the log holds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from assistant.core.events import Setup
from assistant.core.prompts import clock
from assistant.review.examined import Fingerprints, Integrity, Opened
from assistant.review.recital import Recital, debrief, element_line, faults, in_points, mark, what_was_said
from assistant.review.replay import recompute
from assistant.review.report import MARKS, day_of, integrity_line, style, template
from assistant.review.story import Wording

HELPED = {"strict": "never", "asked": "when asked", "coach": "after a pause"}
SIGNS: Mapping[str, str] = {"said": "\u2713", "missed": "\u2013", "wrong": "\u2717", "denied": "\u2717"}
"""Beside each word, so that neither colour nor sign stands alone."""


def recital_page(
    opened: Opened, making: Callable[[Setup], Recital], fingerprints: Fingerprints, wording: Wording
) -> tuple[str, Integrity]:
    """The page as HTML, and whether its log holds. Raises LogTrouble for a log that holds no recital."""
    header = opened.session.header
    flow = making(header.setup)
    state, difference = recompute(flow, opened.session.entries)
    integrity = opened.integrity(difference, fingerprints)
    told = debrief(flow.scheme, mark(flow.scheme, state.heard))
    html = template("recital.html.j2").render(
        style=style(),
        program=header.program,
        day=day_of(header.created),
        facts=[
            ("Trainee", header.setup.driver),
            ("Vehicle", f"{header.setup.vehicle.vehicle_class}, built {header.setup.vehicle.built}"),
            ("Standard", f"{flow.scheme.standard.title}, {flow.scheme.standard.edition}"),
            ("Helped", HELPED[header.setup.recital or "asked"]),
        ],
        told=told,
        sum=wording.full(in_points(told)),
        faults=[wording.full(line) for line in faults(told)],
        practise=wording.full(element_line(flow.scheme, told.practise)) if told.practise else "",
        marks=[
            (
                wording.full(element_line(flow.scheme, one.element)),
                one,
                what_was_said(flow.scheme, one, wording.full),
            )
            for one in told.marks
        ],
        signs=SIGNS,
        outcomes=MARKS,
        verdicts=[(wording.name(one.test), one, wording.full(one.reason)) for one in told.verdicts.values()],
        clock=clock,
        integrity=integrity,
        integrity_line=integrity_line(integrity),
    )
    return html, integrity
