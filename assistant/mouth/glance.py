"""A screen for a glance from the driver's seat: what is asked, what was heard, the time left and the last verdict.

Law: each of the four has its place and never moves; figures are as large as a terminal can make them; colour only
repeats what a word says. It fits 80 columns and 24 lines. Who has no such terminal gets captions (see console).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from assistant.core.events import (
    Device,
    Due,
    Effect,
    Event,
    Heard,
    Judged,
    Line,
    Say,
    StartTimer,
    Take,
    TestId,
    Verdict,
)
from assistant.core.prompts import Prompts, clock

WIDTH, HEIGHT = 80, 24
_LEFT = 50
_COLOUR: Final[Mapping[str, str]] = {"pass": "green", "fail": "red", "not judged": "yellow"}
_WORD: Final[Mapping[str, str]] = {"pass": "pass", "fail": "FAIL", "not judged": "open"}
_ENDS_A_TIME = ("hold.broken", "flow.again", "flow.back", "flow.stopped", "flow.standing-by", "flow.resumed")
# Five rows of three dots a sign, two rows to a line of the terminal.
_SIGNS: Final[Mapping[str, str]] = {
    "0": "###|# #|# #|# #|###",
    "1": " # |## | # | # |###",
    "2": "###|  #|###|#  |###",
    "3": "###|  #|###|  #|###",
    "4": "# #|# #|###|  #|  #",
    "5": "###|#  |###|  #|###",
    "6": "###|#  |###|# #|###",
    "7": "###|  #|  #| # | # ",
    "8": "###|# #|###|# #|###",
    "9": "###|# #|###|  #|###",
    ":": " |#| |#| ",
    ".": " | | | |#",
    " ": "  |  |  |  |  ",
}
_DOTS: Final[Mapping[str, str]] = {"  ": " ", "# ": "▀", " #": "▄", "##": "█"}


def large(figures: str) -> str:
    """Figures, ":" and "." as three lines of block elements; other signs are left out."""
    signs = [_SIGNS[sign].split("|") for sign in figures if sign in _SIGNS]
    rows = [" ".join(sign[row] for sign in signs) for row in range(5)]
    rows.append(" " * len(rows[0]))
    pairs = zip(rows[0::2], rows[1::2], strict=True)
    return "\n".join("".join(_DOTS[a + b] for a, b in zip(upper, lower, strict=True)) for upper, lower in pairs)


def fits(console: Console) -> bool:
    """Whether this is a terminal that can show it; NO_COLOR asks for plain lines."""
    wide = console.is_terminal and not console.no_color and not console.is_dumb_terminal
    return wide and console.encoding.startswith("utf") and console.width >= WIDTH and console.height >= HEIGHT


class Glance:
    """`now_ms`: the time of the check. `written`: how a heard text is spelled. `hearing`: what is being said at this
    moment, "" for nothing."""

    def __init__(
        self,
        console: Console,
        prompts: Prompts,
        written: Callable[[str], str],
        now_ms: Callable[[], int],
        hearing: Callable[[], str],
    ) -> None:
        self._prompts = prompts
        self._written = written
        self._now_ms = now_ms
        self._hearing = hearing
        self._tests: tuple[TestId, ...] = ()
        self._verdicts: dict[TestId, Verdict] = {}
        self._before = self._asked = self._heard = self._figures = self._note = ""
        self._last: Verdict | None = None
        self._until_ms: int | None = None
        self._live = Live(console=console, screen=True, get_renderable=self.render, refresh_per_second=4)

    def open(self) -> None:
        self._live.start(refresh=True)

    def close(self) -> None:
        self._live.stop()

    def begin(self, tests: Iterable[TestId], verdicts: Mapping[TestId, Verdict]) -> None:
        """The tests of the check, and the verdicts that are there already."""
        self._tests, self._verdicts = tuple(tests), dict(verdicts)

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Of the tests that are done, in order."""
        return tuple(self._verdicts.values())

    def note(self, text: str) -> None:
        """A line about the devices or the log."""
        self._note = text

    def show(self, at_ms: int, event: Event | None, effects: tuple[Effect, ...]) -> None:
        del at_ms
        if isinstance(event, Heard):
            self._heard = self._written(event.text or "(not for us)")
            self._figures = ""
        elif isinstance(event, Device):
            self._note = event.detail or f"{event.device.capitalize()} {event.state}."
        elif isinstance(event, Due) and event.timer.startswith("hold/"):
            self._until_ms = None
        for effect in effects:
            self._effect(effect)

    def _effect(self, effect: Effect) -> None:
        if isinstance(effect, Say):
            *before, last = filter(None, map(self._prompts.shown, effect.lines)) if effect.lines else ("",)
            self._before, self._asked = " ".join(before), last
            if any(line.prompt in _ENDS_A_TIME for line in effect.lines):
                self._until_ms = None
        elif isinstance(effect, StartTimer) and effect.timer.startswith("hold/"):
            self._until_ms = effect.due_ms
        elif isinstance(effect, Take):
            self._figures = "  ".join(f"{reading.value:g}" for reading in effect.readings)
        elif isinstance(effect, Judged):
            self._last = effect.verdict
            self._verdicts[effect.verdict.test] = effect.verdict
            self._until_ms = None

    def render(self) -> RenderableType:
        """The whole screen."""
        page = Table.grid(padding=(0, 2))
        page.add_column(width=_LEFT)
        page.add_column(width=WIDTH - _LEFT - 3)
        page.add_row(self._four_places(), self._list())
        return page

    def _four_places(self) -> RenderableType:
        left = max(0, (self._until_ms or 0) - self._now_ms())
        time_left = large(clock(left + 999)) if self._until_ms is not None else "\n\n"
        figures = large(self._figures) if self._figures else "\n\n"
        heard = self._hearing() or self._heard
        below = Table.grid()
        below.add_column(width=_LEFT - 18)
        below.add_column(width=18)
        below.add_row(Text(figures, "bold cyan", no_wrap=True), Text(time_left, "bold", no_wrap=True))
        return Group(
            Rule("asked", align="left", style="dim"),
            _lines(self._before, 2, "dim"),
            _lines(self._asked, 4, "bold"),
            Rule("heard", align="left", style="dim"),
            _lines(heard, 2, "cyan"),
            Rule("reading                         time left", align="left", style="dim"),
            below,
            Rule("last verdict", align="left", style="dim"),
            self._verdict(),
            _lines(self._note, 2, "yellow"),
        )

    def _verdict(self) -> RenderableType:
        if self._last is None:
            return _lines("", 4, "")
        name = self._name(self._last.test)
        head = Text.assemble(
            (f" {self._last.outcome.upper()} ", f"bold reverse {_COLOUR[self._last.outcome]}"), f" {name}\n"
        )
        head.append(self._prompts.full(self._last.reason))
        return _cut(head, 4)

    def _list(self) -> RenderableType:
        rows = Table.grid(padding=(0, 1))
        rows.add_column(width=4)
        rows.add_column(overflow="ellipsis", no_wrap=True)
        here = next((test for test in self._tests if test not in self._verdicts), None)
        for test in self._tests:
            verdict = self._verdicts.get(test)
            word = _WORD[verdict.outcome] if verdict else "now" if test == here else ""
            style = _COLOUR[verdict.outcome] if verdict else "bold reverse" if test == here else "dim"
            rows.add_row(Text(word, style), Text(self._name(test), "bold" if test == here else ""))
        return Group(Rule("tests", align="left", style="dim"), rows)

    def _name(self, test: TestId) -> str:
        return self._prompts.full(Line(prompt=f"test.{test}"))


def _lines(text: str, count: int, style: str) -> RenderableType:
    return _cut(Text(text, style), count)


def _cut(text: Text, count: int) -> RenderableType:
    """Always `count` lines, so that nothing below moves."""
    lines = text.wrap(Console(width=_LEFT, file=None), _LEFT)[:count]
    return Padding(Text("\n").join(lines), (0, 0, count - len(lines), 0))
