"""The needles of a rehearsal in its log and on its report."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest

from assistant.cli import run
from assistant.core.events import Begun, Gauges
from assistant.log import Entry, read
from assistant.review.overview import thinned, trace
from tests.walk import GOVERNED, Walk


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of a rehearsal by a simulated driver who types."""
    log = tmp_path_factory.mktemp("rehearsed") / "a.jsonl"
    run(["rehearse", "--auto", "--typed", "--log", str(log)])
    return log


def _gauges(log: Path) -> list[tuple[Entry, Gauges]]:
    return [(entry, entry.event) for entry in read(log).entries if isinstance(entry.event, Gauges)]


def test_the_needles_stand_in_the_log_without_a_gap(rehearsed) -> None:
    kept = [gauges for _, gauges in _gauges(rehearsed)]
    assert kept
    assert {gauges.step_ms for gauges in kept} == {500}
    for before, after in pairwise(kept):
        assert after.from_ms == before.from_ms + before.step_ms * len(before.psi["primary"])
        assert len(after.psi["primary"]) == len(after.psi["secondary"])


def test_what_a_driver_read_stood_on_the_needles(rehearsed) -> None:
    """A reading is rounded to a mark of the gauge (2 psi here), and spoken a little after it was seen."""
    stood = trace(read(rehearsed).entries)
    run(["report", str(rehearsed), "--json", "-o", str(rehearsed.with_suffix(".json"))])
    text = rehearsed.with_suffix(".json").read_text(encoding="utf-8")
    spoken = re.findall(r'"value": ([0-9.]+),\s+"unit": "psi",\s+"needle": "(\w+)",\s+"at_ms": (\d+)', text)
    assert len(spoken) > 10
    for value, needle, at_ms in spoken:
        near = [psi for minutes, psi in stood[needle] if abs(minutes * 60_000 - int(at_ms)) < 6_000]
        assert min(near) - 2 <= float(value) <= max(near) + 2, (value, needle, at_ms)


def test_nothing_follows_from_the_needles(rehearsed) -> None:
    assert all(entry.effects == () for entry, _ in _gauges(rehearsed))
    walk = Walk(*GOVERNED)
    before = walk.state
    walk.feed(Gauges(from_ms=walk.now, step_ms=500, psi={"primary": (100.0,)}))
    assert walk.state == before


def test_the_report_of_a_rehearsal_draws_the_needles_the_readings_and_the_limits(rehearsed) -> None:
    out = rehearsed.with_suffix(".html")
    assert run(["report", str(rehearsed), "-o", str(out)]) == 0
    page = out.read_text(encoding="utf-8")
    begins = page.index('class="wide overview traced"')
    drawn = page[begins : page.index("</figure>", begins)]
    assert "Pressure and readings over the time of the check" in page
    assert set(re.findall(r'class="series serie-([0-9]) ', drawn)) == set("01234")
    assert "Governor cut-out: primary" in drawn
    assert "nan" not in drawn.lower()
    assert len(page.encode()) <= 300_000


def test_a_line_keeps_its_ends_and_every_turn_with_fewer_points() -> None:
    flat_then_drop = [(float(at), 120.0) for at in range(100)] + [(100.0, 90.0), (101.0, 90.0), (102.0, 90.1)]
    assert thinned(flat_then_drop) == [(0.0, 120.0), (99.0, 120.0), (100.0, 90.0), (102.0, 90.1)]
    assert thinned([]) == []
    assert thinned([(0.0, 1.0)]) == [(0.0, 1.0)]


def test_a_trainee_at_the_keyboard_leaves_the_needles_too(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("sys.stdin", iter(["wait 40\n"]))
    log = tmp_path / "a.jsonl"
    run(["rehearse", "--fast", "--log", str(log)])
    entries = read(log).entries
    assert isinstance(entries[0].event, Begun)
    lasted = sum(len(gauges.psi["primary"]) * gauges.step_ms for _, gauges in _gauges(log))
    assert lasted >= 40_000
