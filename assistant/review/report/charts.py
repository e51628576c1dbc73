"""A small chart for each test that has a figure: where the reading lies against the limit.

Law: what a chart shows it also says: its title is the sentence, and each mark carries its value as data. Colours come
from the page, so that they follow its light or dark; position and words carry the meaning without them.
Drawn with svg.py: libraries of whole charts need a script in the page or a second to load.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import svg  # it writes text as it is given, so that has to be escaped here

from assistant.core.events import Reading, Unit
from assistant.core.limit import Limit
from assistant.review.report.results import Finding

WIDTH, HEIGHT = 340, 104
_LEFT, _RIGHT, _TOP, _BOTTOM = 12, 328, 30, 74
_FULL: dict[Unit, float] = {"psi": 160.0, "kPa": 1100.0}
_STEP: dict[Unit, int] = {"psi": 20, "kPa": 200}


def chart(finding: Finding, limit: Limit | None) -> str | None:
    """The chart as SVG; None for a test without figures, or without readings. Readings of another unit than the first
    are left to the table."""
    if limit is None or finding.outcome is None:
        return None
    if limit.quantity == "pressure" and finding.readings.get("at"):
        return _pressure(finding, limit, finding.readings["at"])
    if limit.quantity == "loss" and finding.readings.get("first") and finding.readings.get("last"):
        return _loss(finding, limit, finding.readings["first"], finding.readings["last"])
    if limit.quantity == "time" and finding.seconds:
        return _time(finding, limit, finding.seconds)
    return None


class _Scale:
    """From a value to a place between two ends of the drawing."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self._low, self._span, self._start, self._length = low, (high - low) or 1.0, start, end - start

    def __call__(self, value: float) -> float:
        place = self._start + (value - self._low) / self._span * self._length
        return round(min(max(place, min(self._start, self._start + self._length)), 10_000), 1)


def _pressure(finding: Finding, limit: Limit, readings: Sequence[Reading]) -> str:
    """The whole gauge as a line, what is allowed as a band on it, each needle a mark."""
    unit = readings[0].unit
    x = _Scale(0, _FULL[unit], _LEFT, _RIGHT)
    high = limit.at_most or limit.less_than
    low_value = float(limit.at_least.value(unit)) if limit.at_least else 0.0
    high_value = float(high.value(unit)) if high else _FULL[unit]
    middle = (_TOP + _BOTTOM) / 2
    elements: list[svg.Element] = [
        _band(x(low_value), middle - 11, x(high_value) - x(low_value), 22, low_value, high_value),
        svg.Line(x1=_LEFT, x2=_RIGHT, y1=middle, y2=middle, class_=["axis"]),
        *_ticks(x, range(0, int(_FULL[unit]) + 1, _STEP[unit])),
    ]
    for place, one in enumerate(readings):
        if one.unit == unit:
            up = place % 2 == 0
            elements += _mark(x(one.value), middle, one, up)
    return _drawn(finding, elements)


def _mark(x: float, middle: float, reading: Reading, up: bool) -> list[svg.Element]:
    away = -1 if up else 1
    label = f"{_letter(reading)} {reading.value:g}".strip()
    return [
        svg.Line(
            x1=x,
            x2=x,
            y1=middle + away * 16,
            y2=middle - away * 3,
            class_=["mark"],
            data={"value": f"{reading.value:g}", "unit": reading.unit, "needle": reading.needle or ""},
        ),
        _text(x, middle + (-20 if up else 28), label, "value", x),
    ]


def _loss(finding: Finding, limit: Limit, first: Sequence[Reading], last: Sequence[Reading]) -> str:
    """The hold from left to right; the band is as deep as the loss that is allowed, below where each needle began."""
    unit = first[0].unit
    high = limit.at_most or limit.less_than
    allowed = float(high.value(unit)) if high else 0.0
    pairs = [
        (one, other)
        for one in first
        for other in last
        if one.unit == other.unit == unit and (one.needle == other.needle or None in (one.needle, other.needle))
    ]
    values = [one.value for pair in pairs for one in pair] + [one.value - allowed for one, _ in pairs]
    if not values:
        return _drawn(finding, [])
    y = _Scale(max(values) + 0.5, min(values) - 0.5, 22, 82)
    left, right = _LEFT + 52, _RIGHT - 60
    elements: list[svg.Element] = []
    for one, _ in pairs:
        if allowed:
            top, bottom = y(one.value), y(one.value - allowed)
            elements.append(_band(left, top, right - left, bottom - top, one.value - allowed, one.value))
    for one, other in pairs:
        line = {"first": f"{one.value:g}", "last": f"{other.value:g}", "unit": unit, "needle": one.needle or ""}
        elements.append(svg.Line(x1=left, x2=right, y1=y(one.value), y2=y(other.value), class_=["course"], data=line))
    starts = _spread([(y(one.value), f"{_letter(one)} {one.value:g}".strip()) for one, _ in pairs])
    ends = _spread([(y(other.value), f"{other.value:g}") for _, other in pairs])
    elements += [_text(left - 4, place + 4, label, "value end") for place, label in starts]
    elements += [_text(right + 4, place + 4, label, "value start") for place, label in ends]
    elements.append(_text(left, HEIGHT - 4, "0 s", "scale", left))
    elements.append(_text(right, HEIGHT - 4, f"{finding.seconds or limit.hold:.0f} s", "scale", right))
    return _drawn(finding, elements)


def _spread(labels: Iterable[tuple[float, str]]) -> list[tuple[float, str]]:
    """Labels moved apart so that none lies on another."""
    placed: list[tuple[float, str]] = []
    for place, label in sorted(labels):
        least = placed[-1][0] + 13 if placed else place
        placed.append((max(place, least), label))
    return placed


def _time(finding: Finding, limit: Limit, seconds: float) -> str:
    """The time that it took as a bar, what is allowed as a band behind it."""
    allowed = limit.seconds_at_most or limit.seconds_less_than or 0.0
    full = max(seconds, allowed) * 1.25
    x = _Scale(0, full, _LEFT, _RIGHT)
    middle = (_TOP + _BOTTOM) / 2
    step = next((step for step in (5, 10, 20, 30, 60, 120, 300) if full / step <= 9), 600)
    bar = svg.Rect(
        x=_LEFT,
        y=middle - 5,
        width=max(1.0, x(seconds) - _LEFT),
        height=10,
        class_=["bar"],
        data={"value": f"{seconds:g}", "unit": "s"},
    )
    band = _band(_LEFT, middle - 11, x(allowed) - _LEFT, 22, 0.0, allowed)
    ticks = _ticks(x, range(0, int(full) + 1, step))
    return _drawn(finding, [band, bar, *ticks, _text(x(seconds), middle - 16, f"{seconds:g} s", "value", x(seconds))])


def _band(x: float, y: float, width: float, height: float, low: float, high: float) -> svg.Element:
    limits = {"low": f"{low:g}", "high": f"{high:g}"}
    return svg.Rect(x=x, y=y, width=max(0.0, width), height=max(0.0, height), class_=["band"], data=limits)


def _ticks(x: _Scale, values: Iterable[int]) -> list[svg.Element]:
    marks: list[svg.Element] = []
    for value in values:
        place = x(value)
        marks.append(svg.Line(x1=place, x2=place, y1=_BOTTOM + 4, y2=_BOTTOM + 9, class_=["tick"]))
        marks.append(_text(place, HEIGHT - 8, str(value), "scale", place))
    return marks


def _text(x: float, y: float, text: str, kind: str, middle: float | None = None) -> svg.Element:
    """`middle`: where the text is centred, kept inside the drawing."""
    classes, text = kind.split(), escape(text)
    if middle is None:
        return svg.Text(x=x, y=y, text=text, class_=classes)
    half = 3.6 * len(text)
    inside = min(max(middle, half + 1), WIDTH - half - 1)
    return svg.Text(x=round(inside, 1), y=y, text=text, text_anchor="middle", class_=classes)


def _letter(reading: Reading) -> str:
    return {"primary": "P", "secondary": "S"}.get(reading.needle or "", "")


def _drawn(finding: Finding, elements: list[svg.Element]) -> str:
    sentence = escape(f"{finding.name}: {finding.outcome}. {finding.reason} Limit: {finding.limit}.")
    view = svg.ViewBoxSpec(0, 0, WIDTH, HEIGHT)
    title: list[svg.Element] = [svg.Title(text=sentence)]
    return svg.SVG(
        viewBox=view, class_=["chart"], elements=title + elements, extra={"role": "img", "aria-label": sentence}
    ).as_str()
