"""The whole check on one chart: every reading over time with the limits that it was held to, and, of a rehearsal, where
the simulated needles really stood.

Law: as for all charts (see charts): nothing is drawn that is not beside it in words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from assistant.core.events import Gauges, Needle, Unit
from assistant.core.limit import Limit
from assistant.core.pressure import KPA_PER_PSI
from assistant.log import Entry
from assistant.review import charts
from assistant.review.charts import DIAL, Place
from assistant.review.results import Result

SIZE, TALL = (900, 190), (900, 260)
_FINE_PSI = 0.6
"""A needle that moved by less since the last point that is drawn is drawn as standing still (own choice)."""
_GAP = (None, None)


def trace(entries: Iterable[Entry]) -> dict[Needle, list[Place]]:
    """Where each simulated needle stood, as (minutes, psi); empty for a check of a real vehicle."""
    stood: dict[Needle, list[Place]] = {}
    for gauges in (entry.event for entry in entries if isinstance(entry.event, Gauges)):
        for needle, psi in gauges.psi.items():
            steps = ((gauges.from_ms + at * gauges.step_ms) / 60_000 for at in range(len(psi)))
            stood.setdefault(needle, []).extend(zip(steps, psi, strict=True))
    return stood


def draw(
    tests: Sequence[Result],
    unit: Unit,
    limit: Callable[[Result], Limit | None],
    stood: dict[Needle, list[Place]],
) -> str:
    """The chart; "" when there is nothing to draw. `limit`: that of a test, None when it is not known any more."""
    read = {needle: list(_readings(tests, unit, needle)) for needle in ("primary", "secondary")}
    places = [place for dots in read.values() for place, _ in dots] + [
        place for line in stood.values() for place in line
    ]
    if not places:
        return ""
    end = max(1.0, max(x for x, _ in places) * 1.03)
    label = f"Every reading of the check in {unit}, over its minutes{', and the simulated needles' if stood else ''}."
    chart = charts.blank(label, TALL if stood else SIZE, x=(0.0, end), y=(0.0, float(DIAL[unit][0])), broken=True)
    chart.x_labels = charts.steps(end, 1 if end <= 12 else 5)
    chart.y_labels = list(range(0, DIAL[unit][0] + 1, DIAL[unit][1]))
    chart.show_y_labels = chart.show_y_guides = True
    chart.add("limit", [place for test in tests for place in _bounds(test, unit, limit(test), end)], show_dots=False)
    for needle, dots in read.items():
        chart.add(needle, [charts.dot(place, said) for place, said in dots], stroke=False)
    scale = 1.0 if unit == "psi" else float(KPA_PER_PSI)
    for needle, line in stood.items():
        chart.add(f"{needle} needle", [(x, round(psi * scale, 1)) for x, psi in thinned(line)], show_dots=False)
    return charts.svg(chart)


def thinned(line: Sequence[Place]) -> list[Place]:
    """The line with fewer points: its ends, and where it has moved enough, with the point just before that."""
    kept = list(line[:1])
    for before, here in pairwise(line):
        if abs(here[1] - kept[-1][1]) >= _FINE_PSI:
            kept += [before, here] if before != kept[-1] else [here]
    return [*kept, line[-1]] if line and line[-1] != kept[-1] else kept


def _readings(tests: Iterable[Result], unit: Unit, needle: str) -> Iterator[tuple[Place, str]]:
    for test in tests:
        for slot in test.readings.values():
            for one in slot:
                if (one.needle or "primary") == needle:
                    place = ((one.at_ms or 0) / 60_000, charts.in_unit(unit, one))
                    yield place, f"{test.name}: {one.needle or 'gauge'} {one.value:g} {one.unit}"


def _bounds(test: Result, unit: Unit, limit: Limit | None, end: float) -> Iterator[tuple[float | None, float | None]]:
    """A short dash at each figure of a pressure's limit, about the time of its reading; of a loss, the line that the
    needle must not be under, from the first to the last reading."""
    if limit is None:
        return
    upper, half = limit.at_most or limit.less_than, end / 60
    first, last = test.readings.get("first", ()), test.readings.get("last", ())
    if first and last and upper:
        start = min(charts.in_unit(unit, one) for one in first)
        over = ((first[-1].at_ms or 0) / 60_000, (last[0].at_ms or 0) / 60_000)
        yield from ((over[0], start), (over[1], start - float(upper.value(unit))), _GAP)
    for one in test.readings.get("at", ())[:1]:
        at = (one.at_ms or 0) / 60_000
        for figure in filter(None, (limit.at_least, upper)):
            bound = float(figure.value(unit))
            yield from ((max(0.0, at - half), bound), (min(end, at + half), bound), _GAP)
