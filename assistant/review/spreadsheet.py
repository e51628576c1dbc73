"""Results as rows for a spreadsheet.

Law: one row a test; a cell never runs as a formula.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from assistant.review.story import spelled

if TYPE_CHECKING:  # the history makes rows too, and needs nothing of what makes results
    from assistant.review.results import Results

COLUMNS = ("log", "created", "driver", "fleet_number", "vehicle_class", "standard", "edition", "test", "outcome",
           "readings", "value", "unit", "limit", "margin", "margin_unit", "seconds", "reason", "source", "consequence",
           "asked_again", "corrections", "integrity", "head")  # fmt: skip


def as_csv(found: Results) -> str:
    """One row a test, with `COLUMNS` as the first row. Text that a spreadsheet would take for a formula is quoted."""
    check = {
        "log": found.log,
        "created": found.created,
        "driver": found.driver,
        "fleet_number": found.fleet_number,
        "vehicle_class": found.vehicle.vehicle_class,
        "standard": found.standard.id,
        "edition": found.standard.edition,
        "integrity": "holds" if found.integrity.holds else "does not hold",
        "head": found.integrity.head,
    }
    rows: list[dict[str, object]] = []
    for test in found.tests:
        own = test.model_dump(include=set(COLUMNS) - {"readings"})
        own |= {"readings": spelled(test.readings), "margin_unit": test.unit if test.margin is not None else None}
        rows.append({**check, **own})
    return table(COLUMNS, rows)


def table(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """CSV with the columns as its first row."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: _plain(value) for key, value in row.items()} for row in rows)
    return out.getvalue()


def _plain(value: object) -> object:
    """A cell that begins like a formula gets an apostrophe (OWASP, CSV injection); numbers stay as they are."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t") else value
