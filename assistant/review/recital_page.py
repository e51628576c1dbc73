"""The page of a recital: what was said, missed, wrong and denied, with the words and their time.

Law: as in `report`, everything on it was computed from the log, and it says first of all whether the log holds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from assistant.core.events import Line, Marked, Setup
from assistant.core.prompts import clock
from assistant.log import wall_time
from assistant.review.examined import Fingerprints, Integrity, Opened
from assistant.review.recital import Debrief, Recital, Scheme, barring, correction, debrief, element_line, mark
from assistant.review.replay import recompute
from assistant.review.report import MARKS, integrity_line, style, template
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
    at = wall_time(header.created)
    html = template("recital.html.j2").render(
        style=style(),
        program=header.program,
        day=f"{at.day} {at:%B %Y}, {at:%H:%M}",
        facts=[
            ("Trainee", header.setup.driver),
            ("Vehicle", f"{header.setup.vehicle.vehicle_class}, built {header.setup.vehicle.built}"),
            ("Standard", f"{flow.scheme.standard.title}, {flow.scheme.standard.edition}"),
            ("Helped", HELPED[header.setup.recital or "asked"]),
        ],
        told=told,
        sum=_sum(told),
        faults=[wording.full(line) for line in _faults(told)],
        practise=wording.full(element_line(flow.scheme, told.practise)) if told.practise else "",
        marks=[_row(flow.scheme, one, wording) for one in told.marks],
        signs=SIGNS,
        outcomes=MARKS,
        verdicts=[(wording.name(one.test), one, wording.full(one.reason)) for one in told.verdicts.values()],
        clock=clock,
        integrity=integrity,
        integrity_line=integrity_line(integrity),
    )
    return html, integrity


def _sum(told: Debrief) -> str:
    said = sum(one.state == "said" for one in told.marks)
    return (
        f"{told.points} of {told.total} points: {said} said, less {len(told.out_of_order)} out of order and "
        f"{len(told.unsafe)} not safe"
    )


def _faults(told: Debrief) -> list[Line]:
    lines = [*barring(told), *(Line(prompt=f"unsafe.{hazard}") for hazard in told.unsafe)]
    pairs = told.out_of_order
    return lines + [Line(prompt="recital.order", values={"later": later, "first": first}) for later, first in pairs]


def _row(scheme: Scheme, one: Marked, wording: Wording) -> tuple[str, Marked, str]:
    """What to say, its mark, and the words; of a wrong limit also the right one."""
    words = one.words
    if one.state == "wrong":
        words = " ".join(wording.full(line) for line in correction(scheme, one))
    return wording.full(element_line(scheme, one.element)), one, words
