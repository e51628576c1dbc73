"""Charts of a check as inline SVG: a reading against its limit, a loss over its hold, values over days.

Law: a chart shows nothing that is not written beside it in words; each point says its value in a <title>. Colours are
classes for the style of the page, so that one page can be light, dark or on paper; no script and no style is in here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from xml.etree.ElementTree import Element

import pygal

from assistant.core.events import Reading, Unit
from assistant.core.interval import exact
from assistant.core.limit import Limit
from assistant.core.pressure import convert
from assistant.review.results import Result
from assistant.review.story import readings

DIAL: dict[Unit, tuple[int, int]] = {"psi": (150, 30), "kPa": (1050, 150)}
"""The end of a usual dial, and a distance between numbers on it."""
Place = tuple[float, float]
_STRIP, _PLOT = (300, 46), (300, 110)


def draw(result: Result, limit: Limit | None) -> str:
    """The chart of one test; "" when it has nothing to draw. `limit`: None: it is not known any more."""
    if result.readings.get("first") and result.readings.get("last") and result.seconds:
        return _loss(result, limit, result.seconds)
    if result.readings.get("at"):
        return _pressure(result, limit, result.readings["at"])
    if result.unit == "s" and result.seconds is not None:
        return _time(result, limit, result.seconds)
    return ""


def series(label: str, lines: Sequence[tuple[str, Sequence[tuple[Place, str]]]], bound: float | None, unit: str,
           ticks: Sequence[tuple[float, str]]) -> str:  # fmt: skip
    """Lines of named points over time, with a dashed one at `bound`. `ticks`: places on the time axis, and names."""
    xs = [x for _, points in lines for (x, _), _ in points]
    ys = [y for _, points in lines for (_, y), _ in points] + ([] if bound is None else [bound])
    room = max((max(ys) - min(ys)) * 0.15, 1.0)
    begin, end = min(xs), max(max(xs), min(xs) + 1)
    chart = blank(label, _PLOT, x=(begin, end), y=(min(ys) - room, max(ys) + room))
    chart.x_labels = [{"value": at, "label": name} for at, name in ticks]
    chart.show_y_labels = True
    chart.y_labels = [{"value": y, "label": f"{y:g}"} for y in dict.fromkeys((round(min(ys), 1), round(max(ys), 1)))]
    chart.add("limit", [] if bound is None else [(begin, bound), (end, bound)], show_dots=False)
    for name, points in lines:
        chart.add(name, [dot(point, f"{said} {unit}".strip()) for point, said in points])
    return svg(chart)


def _pressure(result: Result, limit: Limit | None, at: tuple[Reading, ...]) -> str:
    unit = at[0].unit
    end, step = DIAL[unit]
    low = high = None
    if limit is not None:
        upper = limit.at_most or limit.less_than
        low = float(limit.at_least.value(unit)) if limit.at_least else None
        high = float(upper.value(unit)) if upper else None
    label = f"{result.name}: {readings(at)}; limit {result.limit}."
    width = max(end, *(in_unit(unit, one) * 1.05 for one in at))
    chart = _strip(label, width)
    chart.x_labels = list(range(0, end + 1, step))
    chart.add("limit", _band(low, high, width), fill=True, show_dots=False)
    _needles(chart, at, lambda one: (in_unit(unit, one), 0.5))
    return svg(chart)


def _time(result: Result, limit: Limit | None, seconds: float) -> str:
    most = (limit.seconds_at_most or limit.seconds_less_than) if limit else None
    end = max(seconds, most or 0) * 1.15
    chart = _strip(f"{result.name}: {seconds:.1f} s; limit {result.limit}.", end)
    chart.x_labels = steps(end, next(step for step in (5, 15, 30, 60, 600) if end / step <= 6 or step == 600))
    chart.add("limit", _band(None, most, end), fill=True, show_dots=False)
    chart.add("time", [dot((seconds, 0.5), f"{seconds:.1f} s")], stroke=False)
    return svg(chart)


def _loss(result: Result, limit: Limit | None, seconds: float) -> str:
    first, last = result.readings["first"], result.readings["last"]
    unit = first[0].unit
    upper = (limit.at_most or limit.less_than) if limit else None
    most = float(upper.value(unit)) if upper else None
    tops, ends = [in_unit(unit, one) for one in first], [in_unit(unit, one) for one in last]
    bottom = min([*ends, *([min(tops) - most] if most else [])])
    room = max(1.0, (max(tops) - bottom) * 0.15)
    label = f"{result.name} over {seconds:.0f} s: from {readings(first)} to {readings(last)}; limit {result.limit}."
    chart = blank(label, _PLOT, x=(0, seconds), y=(bottom - room, max(tops) + room))
    chart.x_labels = [{"value": 0, "label": "0 s"}, {"value": seconds, "label": f"{seconds:.0f} s"}]
    chart.show_y_labels = True
    chart.y_labels = [{"value": y, "label": f"{y:g}"} for y in sorted({min(ends), max(tops)})]
    start = next((in_unit(unit, one) for one in first if one.needle == result.needle), min(tops))
    chart.add("limit", [(0, start), (seconds, start - most)] if most else [], show_dots=False)
    pairs = [(one, next((end for end in last if end.needle == one.needle), last[0])) for one in first]
    for needle in ("primary", "secondary"):
        mine = [pair for pair in pairs if (pair[0].needle or "primary") == needle]
        points = [
            dot((at, in_unit(unit, one)), f"{readings((one,))} at {at:.0f} s")
            for a, b in mine
            for at, one in ((0.0, a), (seconds, b))
        ]
        chart.add(needle, points)
    return svg(chart)


def _strip(label: str, end: float) -> Any:
    return blank(label, _STRIP, x=(0.0, end), y=(0.0, 1.0))


def blank(label: str, size: tuple[int, int], x: Place, y: Place, *, broken: bool = False) -> Any:
    """An empty chart with these ends of its axes. `broken`: (None, None) interrupts a line.

    pygal has no types of its own, hence Any."""
    chart = pygal.XY(
        width=size[0], height=size[1], xrange=x, range=y, css=[], js=[], no_prefix=True, disable_xml_declaration=True,
        show_legend=False, show_y_labels=False, show_y_guides=False, include_x_axis=False, margin=2, margin_top=4,
        dots_size=4.5, title=None, y_labels=[], allow_interruptions=broken,
    )  # fmt: skip
    chart.add_xml_filter(lambda root: _bare(root, label))
    return chart


def svg(chart: Any) -> str:
    """The drawing alone, to stand in a page."""
    return str(chart.render(is_unicode=True))


def _bare(root: Element, label: str) -> Element:
    """Leave the drawing alone: no style, script, tooltip or comment of the library; a name for people who can't see it,
    and the label of a point as its title."""
    drawing = next(child for child in root if child.get("class", "").startswith("graph"))
    kept = [drawing]
    for child in list(root):
        if child not in kept:
            root.remove(child)
    for group in drawing.iter():
        for child in list(group):
            name = child.get("class") or ""
            if name.startswith(("plot text-overlay", "plot tooltip-overlay")) or name in ("titles", "value"):
                group.remove(child)
            elif name == "label":
                child.tag, child.attrib = "title", {}
            elif child.tag == "desc" or (child.tag == "title" and group.get("class") == "guides"):
                group.remove(child)
    root.attrib = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": root.get("viewBox", ""), "role": "img"}
    root.set("class", "chart")
    root.insert(0, Element("title"))
    root[0].text = label
    return root


def _needles(chart: Any, values: tuple[Reading, ...], place: Callable[[Reading], Place]) -> None:
    for needle in ("primary", "secondary"):
        mine = [one for one in values if (one.needle or "primary") == needle]
        chart.add(needle, [dot(place(one), readings((one,))) for one in mine], stroke=False)


def dot(point: Place, label: str) -> dict[str, object]:
    """A point that says its value."""
    return {"value": point, "label": label}


def _band(low: float | None, high: float | None, end: float) -> list[Place]:
    if low is None and high is None:
        return []
    left, right = low or 0.0, end if high is None else high
    return [(left, 0.0), (left, 1.0), (right, 1.0), (right, 0.0)]


def in_unit(unit: Unit, reading: Reading) -> float:
    """The value of a reading in `unit`."""
    return float(convert(exact(reading.value), reading.unit, unit))


def steps(end: float, step: int) -> list[int]:
    """Round numbers for an axis."""
    return list(range(0, int(end) + 1, step))
