"""The history of a fleet: nothing counted that does not hold, trends as outside libraries find them, an index that may
be lost at any time."""

from __future__ import annotations

import csv
import io
import sqlite3
from contextlib import closing
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assistant.cli import build, run
from assistant.review.history.index import update
from assistant.review.history.reading import Check, Damaged, look
from assistant.review.history.summary import COLUMNS, History, summaries
from assistant.review.history.trend import AHEAD_DAYS, falls, slope, trends
from tests.fleet import put_check, put_fleet
from tests.log_sample import chained, log_of, unlinked
from tests.test_report import LEAKING, Rows
from tests.walk import GOVERNED, Walk

HEIGHTS = st.lists(st.integers(-50, 50), min_size=5, max_size=30)


@pytest.fixture
def history(monkeypatch, capsys, tmp_path):
    """Runs `gladhand history` with an index of its own; gives its exit code and what it printed."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("COLUMNS", "200")

    def command(*arguments: object) -> tuple[int, str]:
        code = run(["history", *map(str, arguments)])
        printed = capsys.readouterr()
        return code, printed.out + printed.err

    return command


def _silent(done: int, of: int) -> None:
    del done, of


@settings(deadline=None)
@given(HEIGHTS)
def test_the_slope_is_that_of_scipy(heights) -> None:
    """Against scipy.stats.theilslopes, the reference implementation of Theil and Sen."""
    points = [(float(day), float(height)) for day, height in enumerate(heights)]
    assert slope(points) == pytest.approx(stats.theilslopes(heights, range(len(heights))).slope)


@settings(deadline=None)
@given(HEIGHTS)
def test_a_fall_is_never_seen_where_scipy_sees_none(heights) -> None:
    """Against scipy.stats.kendalltau, which corrects for ties: ours may miss a fall among ties, never invent one."""
    found = stats.kendalltau(range(len(heights)), heights, alternative="less", method="asymptotic")
    if falls([(float(day), float(height)) for day, height in enumerate(heights)]):
        assert found.pvalue < 0.05


def test_a_plain_fall_is_seen_and_one_odd_reading_makes_none() -> None:
    falling = [(float(day), 10.0 - day / 2) for day in range(12)]
    flat = [(float(day), 3.0) for day in range(12)]
    assert falls(falling)
    assert not falls([*flat[:-1], (11.0, -40.0)])
    assert slope([*flat[:-1], (11.0, -40.0)]) == 0


def test_a_leak_that_grows_is_flagged_before_it_fails_and_a_steady_one_is_not(tmp_path) -> None:
    """Truth by construction: the loss of vehicle 3 grows from 1 to 4 psi, the limit; the others go up and down."""
    folder = tmp_path / "logs"
    list(put_fleet(folder, vehicles=5, days=12))
    checks, _ = update(folder, tmp_path / "index", _silent, build.dialogue_for)
    found = {(trend.vehicle, trend.test): trend for trend in trends(checks)}
    assert [key for key, trend in found.items() if trend.flagged] == [("T-1003", "applied-leakage")]
    leak = found["T-1003", "applied-leakage"]
    assert leak.value_a_day == pytest.approx(3 / 11, abs=0.05)
    assert leak.margin_a_day == pytest.approx(-leak.value_a_day)
    assert leak.days_left is not None
    assert leak.days_left < AHEAD_DAYS
    assert trends(checks)[0] == leak


def test_too_few_checks_make_no_trend(tmp_path) -> None:
    folder = tmp_path / "logs"
    list(put_fleet(folder, vehicles=4, days=4))
    assert trends(update(folder, tmp_path / "index", _silent, build.dialogue_for)[0]) == ()


def test_only_what_is_new_or_changed_is_read_again(tmp_path) -> None:
    folder = tmp_path / "logs"
    first, *_ = put_fleet(folder, vehicles=3, days=2)
    read: list[int] = []

    def count(done: int, of: int) -> None:
        del of
        read.append(done)

    update(folder, tmp_path / "index", count, build.dialogue_for)
    assert len(read) == 6
    update(folder, tmp_path / "index", count, build.dialogue_for)
    assert len(read) == 6
    put_check(folder, "T-2000", day=9, loss=2)
    first.unlink()
    checks, _ = update(folder, tmp_path / "index", count, build.dialogue_for)
    assert len(read) == 7
    assert first.name not in {check.log for check in checks}
    assert len(checks) == 6
    update(folder, tmp_path / "index", count, build.dialogue_for, anew=True)
    assert len(read) == 13


@pytest.mark.parametrize("damage", ["bytes", "version", "table", "place", "cell"])
def test_an_index_that_is_lost_or_strange_is_made_anew(tmp_path, damage) -> None:
    folder, place = tmp_path / "logs", tmp_path / "index"
    list(put_fleet(folder, vehicles=2, days=2))
    before = update(folder, place, _silent, build.dialogue_for)
    (index,) = place.iterdir()
    if damage == "bytes":
        index.write_bytes(b"no database at all" * 100)
    elif damage == "place":
        index.unlink()
        place.rmdir()
        place.write_text("a file where the folder was")
    else:
        with sqlite3.connect(index) as base:
            base.execute(
                {
                    "version": "PRAGMA user_version = 99",
                    "table": "ALTER TABLE logs DROP COLUMN held",
                    "cell": "UPDATE logs SET held = '{}'",
                }[damage]
            )
        base.close()
    assert update(folder, place, _silent, build.dialogue_for) == before


def test_a_damaged_log_is_listed_and_the_others_are_counted(tmp_path, history) -> None:
    folder = tmp_path / "logs"
    first, second, *_ = put_fleet(folder, vehicles=3, days=1)
    first.write_bytes(first.read_bytes().replace(b'"value":102.0', b'"value":104.0', 1))
    second.write_bytes(second.read_bytes()[:20_000])
    (folder / "other.jsonl").write_text("no log")
    (folder / "gone.jsonl").symlink_to(folder / "nowhere")
    code, printed = history(folder)
    assert code == 0
    assert printed.startswith("2 checks")  # a torn end is forgiven: what stands before it holds
    assert f"Not counted: {first.name} does not hold: line" in printed
    assert "gone.jsonl" in printed
    assert "other.jsonl is not a session log" in printed


def test_a_log_is_kept_with_its_values_and_kilopascals_as_psi(tmp_path) -> None:
    log = log_of(Walk(*LEAKING), tmp_path / "a.jsonl", fleet_number="T-7")
    seen = look(tmp_path, log.name, build.dialogue_for)
    assert isinstance(seen, Check)
    leak = next(found for found in seen.tests if found.test == "applied-leakage")
    assert (leak.outcome, leak.value, leak.margin, leak.unit) == ("fail", 8.0, -4.0, "psi")
    metric = (*GOVERNED[:-2], "eight hundred sixty kilopascals", "seven hundred kilopascals")
    log_of(Walk(*metric), tmp_path / "b.jsonl", sealed=False)
    seen = look(tmp_path, "b.jsonl", build.dialogue_for)
    assert isinstance(seen, Check)
    cut_out = next(found for found in seen.tests if found.test == "governor-cut-out")
    assert (cut_out.unit, cut_out.value) == ("psi", pytest.approx(860 / 6.894757, abs=0.001))
    assert isinstance(look(tmp_path, "none.jsonl", build.dialogue_for), Damaged)


def test_groups_count_failures_and_what_is_missed_most(tmp_path) -> None:
    log_of(Walk(*LEAKING), tmp_path / "a.jsonl", driver="Robin", fleet_number="T-1")
    log_of(Walk(*GOVERNED), tmp_path / "b.jsonl", driver="Robin", sealed=False)
    checks, _ = update(tmp_path, tmp_path / "index", _silent, build.dialogue_for)
    (robin,) = summaries(checks, "driver")
    assert (robin.key, robin.checks, robin.failed, robin.missed[0][0]) == ("Robin", 2, 1, "applied-leakage")
    assert [line.key for line in summaries(checks, "vehicle")] == ["(no number)", "T-1"]


def test_csv_and_json_hold_the_same_and_filters_choose(tmp_path, history) -> None:
    folder = tmp_path / "logs"
    list(put_fleet(folder, vehicles=3, days=3))
    chosen = (folder, "--vehicle", "T-1001", "--since", "2026-01-06")
    _, printed = history(*chosen, "--json")
    found = History.model_validate_json(printed)
    assert {(check.fleet_number, check.created[:10]) for check in found.checks} == {
        ("T-1001", "2026-01-06"),
        ("T-1001", "2026-01-07"),
    }
    _, printed = history(*chosen, "--csv")
    rows = list(csv.DictReader(io.StringIO(printed)))
    assert tuple(rows[0]) == COLUMNS
    assert [(row["log"], row["test"], row["outcome"]) for row in rows] == [
        (check.log, test.test, test.outcome) for check in found.checks for test in check.tests
    ]


def test_checks_of_a_simulated_vehicle_count_only_when_asked_for(tmp_path, history) -> None:
    put_check(tmp_path, "T-1", day=0, loss=2)
    put_check(tmp_path, "T-2", day=1, loss=2, mode="rehearsal")
    assert "T-2" not in history(tmp_path)[1]
    assert "T-2" in history(tmp_path, "--rehearsals")[1]


def test_the_page_is_self_contained_and_shows_what_heads_for_its_limit(tmp_path, history) -> None:
    folder, out = tmp_path / "logs", tmp_path / "fleet.html"
    list(put_fleet(folder, vehicles=5, days=12))
    history(folder, "--html", out)
    page = out.read_text(encoding="utf-8")
    assert "script" not in Rows(page).tags
    assert page.count("look at it") == 2  # at its chart and in the table
    assert 'data-vehicle="T-1003" data-test="applied-leakage"' in page
    assert "http" not in page.replace("http-equiv", "").replace("http://www.w3.org/2000/svg", "")


def test_an_index_that_another_process_holds_costs_time_and_nothing_else(tmp_path, monkeypatch) -> None:
    folder, place = tmp_path / "logs", tmp_path / "index"
    list(put_fleet(folder, vehicles=2, days=2))
    before = update(folder, place, _silent, build.dialogue_for)
    put_check(folder, "T-1", day=5, loss=2)
    (index,) = place.iterdir()
    monkeypatch.setattr(sqlite3, "connect", partial(sqlite3.connect, timeout=0.1))
    with closing(sqlite3.connect(index)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert len(update(folder, place, _silent, build.dialogue_for)[0]) == len(before[0]) + 1


@pytest.mark.parametrize(
    ("options", "code", "part"),
    [
        (("no-folder",), 4, "is not a folder"),
        ((".", "--since", "yesterday"), 2, "is no day"),
        ((".", "--by", "moon"), 2, "Choose one of: vehicle, driver, date, standard"),
        ((".", "--csv", "--json"), 2, "Choose one of --json and --csv"),
    ],
)
def test_wrong_use_of_history_is_a_sentence(history, options, code, part) -> None:
    assert history(*options)[0] == code
    assert part in history(*options)[1]


def test_a_test_that_was_begun_again_and_not_finished_does_not_count(tmp_path) -> None:
    """Its old verdict stands in the log for ever, but the check was broken off before there was a new one."""
    log_of(Walk(*GOVERNED), tmp_path / "a.jsonl", sealed=False)
    log_of(Walk(*GOVERNED, "go back"), tmp_path / "b.jsonl", sealed=False)
    counted = [look(tmp_path, name, build.dialogue_for) for name in ("a.jsonl", "b.jsonl")]
    tests = [{found.test for found in check.tests} for check in counted if isinstance(check, Check)]
    assert tests[0] - tests[1] == {"governor-cut-in"}
    assert tests[1] == {"build-up", "governor-cut-out"}


def test_a_broken_off_check_by_a_standard_that_is_gone_is_listed_with_the_reason(tmp_path) -> None:
    bodies = unlinked(log_of(Walk(*GOVERNED), tmp_path / "a.jsonl", sealed=False).read_bytes())
    gone = [body.replace('"standard":"common-practice"', '"standard":"gone"') for body in bodies]
    (tmp_path / "a.jsonl").write_bytes(chained(gone))
    seen = look(tmp_path, "a.jsonl", build.dialogue_for)
    assert isinstance(seen, Damaged)
    assert 'There is no standard "gone"' in seen.why
