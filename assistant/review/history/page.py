"""The history as one page: what heads for its limit first, then everything by vehicle, driver, date or standard.

Law: as for the report: no network, no script, no other file; a chart says nothing that is not in the table beside it.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import partial

from markupsafe import Markup

from assistant.review import charts
from assistant.review.history.summary import History, counted
from assistant.review.history.trainee import Trainee, to_say
from assistant.review.history.trend import Trend, sentence
from assistant.review.report import style, template
from assistant.review.story import Wording

DRAWN = 24
"""Charts on a page at most: of one vehicle all, else of what heads for its limit; every trend is in the table."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def page(history: History, wording: Wording) -> str:
    """The history as HTML."""
    shown = [trend for trend in history.trends if history.wanted.vehicle or trend.days_left is not None]
    drawn = [(trend, Markup(_chart(trend, wording))) for trend in shown[:DRAWN]]
    return template("history.html.j2").render(
        history=history,
        style=style(),
        drawn=drawn,
        flagged=[trend for trend in history.trends if trend.flagged],
        look_at={trend.vehicle for trend in history.trends if trend.flagged and history.by == "vehicle"},
        name=wording.name,
        recited=[(trainee, Markup(_marks(trainee))) for trainee in history.trainees[:DRAWN]],
        to_say=partial(to_say, wording=wording),
        counted=counted,
        when=sentence,
    )


def _chart(trend: Trend, wording: Wording) -> str:
    label = f"{trend.vehicle}, {wording.name(trend.test)}: margin to the limit in {trend.unit}, check by check."
    points = [((day, margin), f"{_date(day)}: margin {margin:+g}") for day, _, margin in trend.points]
    ends = (trend.points[0][0], trend.points[-1][0])
    return charts.series(label, [("margin", points)], 0.0, trend.unit, [(day, _date(day)) for day in ends])


def _marks(trainee: Trainee) -> str:
    """The marks over time; "" for a single recital."""
    if len(trainee.recitals) < 2:
        return ""
    label = f"{trainee.name}: points in percent of what could be had, recital by recital."
    done = trainee.recitals
    points = [
        ((float(at), round(100 * one.share)), f"{_date(one.day)}: {100 * one.share:.0f}") for at, one in enumerate(done)
    ]
    ends = [(0.0, _date(done[0].day)), (len(done) - 1.0, _date(done[-1].day))]
    return charts.series(label, [("marks", points)], 100.0, "%", ends)


def _date(day: float) -> str:
    return f"{_EPOCH + timedelta(days=day):%Y-%m-%d}"
