"""`gladhand replay`: go through a session log again, verify it, or judge it by another standard."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.console import Console
from rich.table import Table

from assistant import assets, standards
from assistant.cli import build
from assistant.cli.asked import one_of, test_of
from assistant.cli.retell import Retelling
from assistant.core.events import Outcome, Setup, TestId, Verdict
from assistant.core.trouble import LogTrouble, Trouble
from assistant.log import Session, read, sound_folder, verify
from assistant.review.examined import changes
from assistant.review.rejudge import Again, rejudge
from assistant.review.replay import fold, recompute
from assistant.review.sounds import SoundCount, Sounds
from assistant.review.standing import standing_verdicts
from assistant.review.story import Moment, Wording, tell
from assistant.review.written import written_verdicts

_ONLY: dict[str, Outcome] = {"failed": "fail", "not-judged": "not judged"}


class ChangedSound(LogTrouble):
    """A kept utterance is not the one that the log names."""

    exit_code = 1


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(replay)


def replay(
    log: Annotated[Path, typer.Argument(help="A session log (.jsonl).")],
    verify_it: Annotated[
        bool, typer.Option("--verify", help="Check every byte of the chain, every verdict and every kept sound.")
    ] = False,
    standard: Annotated[
        str | None, typer.Option("--standard", help="Judge the same readings by this one, and show what changes.")
    ] = None,
    since: Annotated[str | None, typer.Option("--from", help="Begin with this test.")] = None,
    only: Annotated[str | None, typer.Option("--only", help=f"Tests that ended so: {', '.join(_ONLY)}.")] = None,
    speed: Annotated[
        float | None, typer.Option("--speed", min=0.1, help="Keep the time: 1 as it was, 10 ten times faster.")
    ] = None,
    listen: Annotated[bool, typer.Option("--listen", help="Speak the lines, play the kept utterances.")] = False,
) -> None:
    """Show a check as it happened: what was said and heard, each reading, each verdict with its limit and source."""
    console = Console(highlight=False)
    if verify_it:
        _verify(log, console)
        return
    kept = read(log)
    wording = Wording(assets.prompts(), build.language(kept.header.setup.unit))
    if standard is not None:
        _by_another(kept, standard, wording, console)
        return
    moments = _chosen(kept, wording, since, only)
    console.print(f"{kept.header.created}: {_about(kept.header.setup)}\n", markup=False, soft_wrap=True)
    retelling = Retelling(console, wording, Sounds(sound_folder(log)) if listen else None)
    _retell(retelling, moments, speed)
    console.print(f"\n{_ending(kept)} Head {kept.head}.")


def _about(setup: Setup) -> str:
    about = [setup.driver, setup.fleet_number, setup.route, setup.vehicle.vehicle_class, setup.standard]
    return ", ".join(part for part in about if part)


def _chosen(kept: Session, wording: Wording, since: str | None, only: str | None) -> list[Moment]:
    """The moments that were asked for. Raises Trouble for a test or an ending that is none or did not happen."""
    moments = list(tell(kept.entries, wording))
    if since is not None:
        test = test_of(since)
        first = next((place for place, moment in enumerate(moments) if moment.test == test), None)
        if first is None:
            raise Trouble(f"This check has no {wording.name(test).lower()}. Leave out --from to see all of it.")
        moments = moments[first:]
    if only is not None:
        outcome = _ONLY[one_of(only, list(_ONLY), "choice for --only")]
        found = _standing(kept)
        wanted = {test for test, verdict in found.items() if verdict.outcome == outcome}
        moments = [moment for moment in moments if moment.test in wanted]
    return moments


def _standing(kept: Session) -> dict[TestId, Verdict]:
    setup, then = kept.header.setup, kept.header.fingerprints
    state, _ = recompute(build.dialogue_for(setup), kept.entries)
    return standing_verdicts(
        written_verdicts(kept.entries), state, changed=bool(changes(then, build.fingerprints(setup)))
    )


def _retell(retelling: Retelling, moments: list[Moment], speed: float | None) -> None:
    """Raises nothing: Ctrl-C ends it, as a person would."""
    began, first = time.monotonic(), moments[0].at_ms if moments else 0
    try:
        for moment in moments:
            if speed is not None:
                due = began + (moment.at_ms - first) / 1000 / speed
                time.sleep(max(0.0, due - time.monotonic()))
            retelling.show(moment)
    except KeyboardInterrupt:
        pass
    finally:
        retelling.close()


def _verify(log: Path, console: Console) -> None:
    """Raises BrokenLog for a broken link, Difference for effects that come out otherwise, ChangedSound for a sound."""
    kept = verify(log)
    setup = kept.header.setup
    if setup.recital is None:
        fold(build.dialogue_for(setup), kept.entries)
    else:
        fold(build.recital_for(setup), kept.entries)
    sounds = Sounds(sound_folder(log)).count(kept.entries)
    if sounds.changed or sounds.missing:
        raise ChangedSound(
            f"Every link holds and every verdict recomputes, but of {sounds.kept} kept utterances {sounds.changed} "
            f"have changed and {sounds.missing} are missing in {sound_folder(log)}. Keep log and folder as they are."
        )
    count = len(kept.entries)
    heard = _heard(sounds)
    console.print(f"Whole: {count} entries, every link holds and every verdict recomputes{heard}. Head {kept.head}.")
    console.print(_ending(kept))


def _heard(sounds: SoundCount) -> str:
    return f", and {sounds.whole} kept utterances have the hash in the log" if sounds.kept else ""


def _by_another(kept: Session, name: str, wording: Wording, console: Console) -> None:
    """The verdicts then and by another standard. Raises Trouble for one that is not there, Difference for a log that
    does not recompute."""
    other = standards.load(name)
    setup = kept.header.setup
    state = fold(build.dialogue_for(setup), kept.entries)
    judged = rejudge(state, other)
    table = Table("Test", f"By {setup.standard}, then", f"By {other.id}", "", show_lines=True)
    for again in judged:
        cells = [_side(again, side, wording) for side in ("then", "now")]
        table.add_row(wording.name(again.test), *cells, "changed" if again.changed else "")
    console.print(f"The same readings by {other.title}, {other.edition}.", markup=False, soft_wrap=True)
    console.print(table)
    changed = sum(again.changed for again in judged)
    console.print(f"{changed} of {len(judged)} tests come out otherwise. {other.meaning}", markup=False, soft_wrap=True)


def _side(again: Again, side: Literal["then", "now"], wording: Wording) -> str:
    verdict = again.then if side == "then" else again.now
    if verdict is None:
        return "not done in this check" if again.then is None else "not part of this standard"
    margin = "" if verdict.margin is None else f" (margin {verdict.margin:+g} {verdict.unit})"
    return f"{verdict.outcome}{margin}: {verdict.limit}\n{wording.full(verdict.reason)}\n{verdict.source}"


def _ending(kept: Session) -> str:
    if kept.sealed:
        return "The check is complete and sealed."
    return (
        "The last line is torn: the writer was interrupted."
        if kept.torn
        else "The check is not complete; it can be resumed."
    )
