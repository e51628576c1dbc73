"""`gladhand report`: what a session log holds, as a page, as data or as a table."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Annotated

import typer

from assistant import assets
from assistant.cab.keeping import folder_beside
from assistant.cli import build
from assistant.core.events import Line
from assistant.core.prompts import Prompts
from assistant.core.trouble import LogTrouble, Trouble
from assistant.log import Session, proven
from assistant.review import report as review
from assistant.review.course import rows
from assistant.review.report.printing import to_pdf


def register(app: typer.Typer) -> None:
    app.command()(report)


def report(
    log: Annotated[Path | None, typer.Argument(help="A session log (.jsonl).")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Where the page goes; beside the log if not told.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", help="Print the page into this file as well (needs a browser).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="The results as JSON instead of a page.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="A row for each test instead of a page.")] = False,
    schema: Annotated[bool, typer.Option("--schema", help="The JSON schema of --json.")] = False,
    sound: Annotated[bool, typer.Option("--sound/--no-sound", help="Put the kept utterances into the page.")] = True,
) -> None:
    """One page about one check: verdicts, charts, defect record, course, and whether the log can be believed."""
    if schema:
        typer.echo(json.dumps(review.Results.model_json_schema(), indent=2))
        return
    if log is None:
        raise Trouble("Name the session log: gladhand report LOG.")
    session, fault = proven(log)
    if not session.entries:
        raise fault or LogTrouble("The session log holds no check yet: there is nothing to report.")
    prompts = assets.prompts()
    kept = review.sound_beside(folder_beside(log))
    results = _results(log, session, fault, prompts, kept)
    if as_json:
        typer.echo(results.model_dump_json(indent=2))
    elif as_csv:
        typer.echo(_table(results), nl=False)
    else:
        _page(log, session, results, prompts, kept if sound else {}, out, pdf)
    if not results.trust.chain or results.trust.recomputed is False or results.trust.sounds_changed:
        raise Trouble("The log does not hold: " + " ".join(results.trust.faults))


def _results(
    log: Path, session: Session, fault: LogTrouble | None, prompts: Prompts, kept: dict[str, bytes]
) -> review.Results:
    def trust(recomputed: bool | None, difference: str) -> review.Trust:
        return review.judge_log(session, fault, recomputed, difference, kept)

    return review.results(log.name, session, build.dialogue_for(session.header.setup), prompts, trust)


def _page(
    log: Path,
    session: Session,
    results: review.Results,
    prompts: Prompts,
    sounds: dict[str, bytes],
    out: Path | None,
    pdf: Path | None,
) -> None:
    setup = session.header.setup
    dialogue = build.dialogue_for(setup)
    ids = ("opening.caution", "closing.failed", "closing.open", "closing.passed")
    wording = review.Wording(*(prompts.full(Line(prompt=name)) for name in ids))
    timeline = rows(dialogue, session.entries, prompts, build.language(setup.unit).written)
    page = review.render(results, dialogue.standard, timeline, wording, sounds)
    place = out or log.with_suffix(".html")
    try:
        place.write_text(page, encoding="utf-8")
    except OSError as error:
        raise Trouble(
            f"The page can't be written to {place} ({error.strerror or error}). Name another with -o."
        ) from error
    typer.echo(f"Report: {place}")
    if pdf is not None:
        to_pdf(place, pdf)
        typer.echo(f"Printed: {pdf}")


def _table(results: review.Results) -> str:
    """RFC 4180, a header line first."""
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(
        (
            "log",
            "began",
            "unit",
            "driver",
            "standard",
            "test",
            "verdict",
            "readings",
            "limit",
            "margin",
            "measure",
            "reason",
            "source",
        )
    )
    about = (results.log, results.began, results.setup.fleet_number, results.setup.driver, results.standard.id)
    for one in results.findings:
        readings = "; ".join(
            f"{slot} {reading.needle or ''} {reading.value:g} {reading.unit}".replace("  ", " ")
            for slot, several in one.readings.items()
            for reading in several
        )
        verdict = one.outcome or "not reached"
        rows.writerow((*about, one.test, verdict, readings, one.limit, one.margin, one.unit, one.reason, one.source))
    return text.getvalue()
