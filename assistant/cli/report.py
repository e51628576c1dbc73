"""`gladhand report`: a finished check as a page, a PDF, JSON or CSV."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from assistant import assets
from assistant.cli import build
from assistant.cli.browser import print_to_pdf
from assistant.cli.files import write
from assistant.core.trouble import Trouble
from assistant.review.examined import Integrity, Opened, examine, opened
from assistant.review.report import integrity_line, page
from assistant.review.results import Results, results
from assistant.review.spreadsheet import as_csv
from assistant.review.story import Wording

DAMAGED = 1
"""The exit code when the report says that its log does not hold."""


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(report)


def report(
    log: Annotated[Path | None, typer.Argument(help="A session log (.jsonl).")] = None,
    out: Annotated[Path | None, typer.Option("-o", "--output", help="The page; without it, beside the log.")] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="As PDF, by a Chromium-like browser.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The results as JSON.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="The results as CSV, one row a test.")] = False,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON schema of the results, and leave.")] = False,
    sound: Annotated[bool, typer.Option("--sound/--no-sound", help="Put the kept utterances into the page.")] = True,
    timeline: Annotated[bool, typer.Option("--timeline/--no-timeline", help="Every moment of the check.")] = True,
) -> None:
    """Write the report of a check: verdicts with limits and sources, charts, what was heard, and whether the log holds;
    or of a recital: every mark with the words and their time.

    A log that does not hold gets its report too, which says so; the exit code is then 1.
    """
    if schema:
        typer.echo(json.dumps(Results.model_json_schema(), indent=2))
        return
    if log is None:
        raise Trouble("Name the session log to report on: gladhand report LOG. `gladhand history` lists them.")
    if sum((pdf, as_json, csv)) > 1:
        raise Trouble("Choose one of --pdf, --json and --csv.")
    read = opened(log)
    if read.session.header.setup.recital is not None:
        _recital(read, out, pdf, data=as_json or csv)
        return
    seen = examine(read, build.dialogue_for, build.fingerprints)
    wording = Wording(assets.prompts(), build.language(seen.session.header.setup.unit))
    found = results(seen, wording)
    if as_json or csv:
        text = as_csv(found) if csv else found.model_dump_json(indent=2) + "\n"
        _give(text, out)
    else:
        html = page(seen, found, wording, timeline=timeline, sound=sound and not pdf)
        _page(html, out or log.with_suffix(".pdf" if pdf else ".html"), pdf)
    _warn(found.integrity)


def _recital(log: Opened, out: Path | None, pdf: bool, *, data: bool) -> None:
    """The page of a recital. Raises Trouble where its marks are wanted as data."""
    from assistant.review.recital_page import recital_page  # only a recital needs it

    if data:
        raise Trouble("There is no --json or --csv of a recital's log: leave them out for its page.")
    wording = Wording(assets.prompts())
    html, integrity = recital_page(log, build.recital_for, build.fingerprints, wording)
    _page(html, out or log.path.with_suffix(".pdf" if pdf else ".html"), pdf)
    _warn(integrity)


def _warn(integrity: Integrity) -> None:
    if not integrity.holds:
        typer.echo(integrity_line(integrity), err=True)
        raise typer.Exit(DAMAGED)


def _give(text: str, out: Path | None) -> None:
    if out is None:
        typer.echo(text, nl=False)
    else:
        write(out, text)


def _page(html: str, out: Path, pdf: bool) -> None:
    if pdf:
        print_to_pdf(html, out)
    else:
        write(out, html)
    typer.echo(f"Report: {out}")
