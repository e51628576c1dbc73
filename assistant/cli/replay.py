"""`gladhand replay`: goes through a session log again, proves it, or judges its readings by another standard."""

from __future__ import annotations

import io
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, get_args

import soundfile
import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from assistant import assets, standards
from assistant.cab.keeping import folder_beside
from assistant.cli import build
from assistant.cli.asked import one_of
from assistant.core.events import Heard, Line, TestId, Verdict
from assistant.core.prompts import Prompts
from assistant.core.trouble import LogTrouble, Trouble
from assistant.log import Session, read, verify
from assistant.mouth.console import clock
from assistant.mouth.loudspeaker import Loudspeaker
from assistant.mouth.sound import Sound
from assistant.review.course import Row, rows
from assistant.review.replay import fold
from assistant.review.report import sound_beside
from assistant.review.second_opinion import Opinion, opinions
from assistant.soundcard.hush import hushed

_WPM = 190
_LONGEST_WAIT_S = 10.0
_STYLES = {"pass": "bold green", "fail": "bold red", "not judged": "bold yellow"}


def register(app: typer.Typer) -> None:
    app.command()(replay)


def replay(
    log: Annotated[Path, typer.Argument(help="A session log (.jsonl).")],
    verify_it: Annotated[
        bool, typer.Option("--verify", help="Check every byte, every verdict and every kept utterance.")
    ] = False,
    start: Annotated[str | None, typer.Option("--from", help="Begin at this test.")] = None,
    only: Annotated[str | None, typer.Option("--only", help="failed: nothing but the tests that failed.")] = None,
    speed: Annotated[
        float | None, typer.Option("--speed", min=0.1, help="Times as fast as it was; at once if not told.")
    ] = None,
    listen: Annotated[bool, typer.Option("--listen", help="Play what was kept and speak the lines again.")] = False,
    standard: Annotated[str | None, typer.Option("--standard", help="Judge the same readings by this one.")] = None,
) -> None:
    """Show a check as it happened: what was said and heard, each reading, each verdict with its limit and source."""
    console = Console(highlight=False)
    if verify_it:
        _verify(log, console)
        return
    kept = read(log)
    if standard is not None:
        _judge_again(kept, standard, console)
        return
    setup = kept.header.setup
    about = [setup.driver, setup.fleet_number, setup.route, setup.vehicle.vehicle_class, setup.standard]
    console.print(f"{kept.header.created}: " + ", ".join(part for part in about if part) + "\n", markup=False)
    course = rows(build.dialogue_for(setup), kept.entries, assets.prompts(), build.language(setup.unit).written)
    chosen = _chosen(course, start, only)
    if listen:
        _listen(chosen, sound_beside(folder_beside(log)), console)
    else:
        _show(chosen, speed, console)
    console.print(f"\n{_ending(kept.sealed, kept.torn)} Head {kept.head}.")


def _chosen(course: tuple[Row, ...], start: str | None, only: str | None) -> tuple[Row, ...]:
    """Raises Trouble for a test that is none, or is not in the log, and for another word than "failed"."""
    if only is not None:
        one_of(only, ("failed",), "choice for --only")
        outcomes = {row.test: row.outcome for row in course if row.outcome}
        course = tuple(row for row in course if outcomes.get(row.test) == "fail")
        if not course:
            raise Trouble("No test failed in this check.")
    if start is None:
        return course
    test = one_of(start, get_args(TestId), "test")
    first = next((at for at, row in enumerate(course) if row.test == test), None)
    if first is None:
        raise Trouble(f"The check has nothing about {test}.")
    return course[first:]


def _show(course: Iterable[Row], speed: float | None, console: Console) -> None:
    """`speed`: times as fast as it was, None: at once."""
    before: int | None = None
    for row in course:
        if speed is not None and before is not None:
            time.sleep(min(max(0, row.at_ms - before) / 1000 / speed, _LONGEST_WAIT_S))
        before = row.at_ms
        console.print(_line(row))


def _listen(course: Iterable[Row], kept: Mapping[str, bytes], console: Console) -> None:
    """Each row with its sound: what the driver said as it was kept, what the assistant said in the voice of now."""
    with hushed():
        speaker = Loudspeaker(lambda why: console.print(why, style="yellow", markup=False), _WPM)
        try:
            for row in course:
                console.print(_line(row))
                if row.who == "gladhand":
                    speaker.speak(row.text)
                elif row.sound in kept:
                    samples, rate = soundfile.read(io.BytesIO(kept[row.sound or ""]), dtype="int16")
                    speaker.play(Sound(samples, rate))
                while speaker.speaking:
                    time.sleep(0.02)
        finally:
            speaker.close()


def _line(row: Row) -> Table:
    style = {"driver": "cyan", "gladhand": "bold", "verdict": _STYLES.get(row.outcome or "", "")}.get(row.who, "yellow")
    text = Text(row.text, style=style if row.who == "verdict" else "")
    if row.ignored:
        text.append("  (not for us)", style="dim")
    if row.evidence:
        text.append("\n" + "; ".join(row.evidence), style="dim")
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=5, justify="right", style="dim")
    grid.add_column(width=8, style=style)
    grid.add_column(overflow="fold")
    grid.add_row(clock(row.at_ms), row.who, text)
    return grid


def _verify(log: Path, console: Console) -> None:
    """Raises BrokenLog for a broken link, Difference for effects that come out otherwise, LogTrouble for kept sound
    that is not the one in the log."""
    kept = verify(log)
    fold(build.dialogue_for(kept.header.setup), kept.entries)
    sounds = _sounds(kept, log)
    count = len(kept.entries)
    console.print(f"Whole: {count} entries, every link holds and every verdict recomputes. Head {kept.head}.")
    if sounds:
        console.print(sounds)
    console.print(_ending(kept.sealed, kept.torn))


def _sounds(kept: Session, log: Path) -> str:
    wanted = {one.event.sound for one in kept.entries if isinstance(one.event, Heard) and one.event.sound}
    there = sound_beside(folder_beside(log)).keys()
    if not wanted or not there:
        return f"{len(wanted)} utterances were kept; their folder is not beside the log." if wanted else ""
    missing = len(wanted - there)
    if missing:
        raise LogTrouble(
            f"{missing} of {len(wanted)} kept utterances in {folder_beside(log).name} are missing or were changed. "
            "The log itself holds."
        )
    return f"All {len(wanted)} kept utterances are the ones that the log names."


def _judge_again(kept: Session, name: str, console: Console) -> None:
    dialogue = build.dialogue_for(kept.header.setup)
    state, other, prompts = fold(dialogue, kept.entries), standards.load(name), assets.prompts()
    table = Table("Test", f"By {dialogue.standard.id}", f"By {other.id}", show_lines=True)
    found = opinions(state, other)
    for one in found:
        table.add_row(_name(one, prompts), _cell(one.given, prompts), _cell(one.other, prompts))
    changed = [_name(one, prompts) for one in found if one.changes]
    console.print(table)
    console.print(f"Changes: {', '.join(changed)}." if changed else "No verdict changes.", markup=False)
    console.print(other.meaning, markup=False)


def _name(one: Opinion, prompts: Prompts) -> str:
    name = prompts.full(Line(prompt=f"test.{one.test}"))
    return f"{name} *" if one.changes else name


def _cell(verdict: Verdict | None, prompts: Prompts) -> Text:
    if verdict is None:
        return Text("not done", style="dim")
    text = Text(f"{verdict.outcome}. ", style=_STYLES[verdict.outcome])
    text.append(prompts.full(verdict.reason), style="default")
    return text.append(f"\n{verdict.limit}; {verdict.source}", style="dim")


def _ending(sealed: bool, torn: bool) -> str:
    if sealed:
        return "The check is complete and sealed."
    return (
        "The last line is torn: the writer was interrupted."
        if torn
        else "The check is not complete; it can be resumed."
    )
