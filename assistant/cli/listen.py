"""`gladhand listen`: what is heard and understood in sound files, one line for each file.

Law: the same ears and the same understanding as in a check, with no question open and no limit known.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from assistant.cli import build
from assistant.cli.asked import unit_of
from assistant.cli.model import ModelPath, ready
from assistant.core.events import Heard, Reading, Unit
from assistant.core.hearing import Understood, understand
from assistant.core.trouble import BadInput
from assistant.ears.recording import Recording


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(listen)


def listen(
    files: Annotated[list[Path], typer.Argument(help="Sound files (wav, flac, ...) of 16 kHz or more.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
    unit: Annotated[str, typer.Option("--unit", help="The unit of a number spoken without one: psi or kPa.")] = "psi",
    model: ModelPath = None,
) -> None:
    """Show what is heard and understood in sound files; the speech model is loaded once for all of them.

    A file that can't be used is told of in its place, and the exit code is then 4.
    """
    chosen = unit_of(unit)
    folder = ready(model, Console(stderr=True))
    language = build.language(chosen)
    bad = 0
    for file in files:
        try:
            found = _summary([(heard, understand(heard, language, chosen)) for heard in _hear(folder, chosen, file)])
        except BadInput as trouble:
            bad += 1
            found = {"kind": "unclear", "readings": [], "heard": "", "why": str(trouble)}
        typer.echo(json.dumps({"file": str(file), **found}) if as_json else _plain(file, found))
    if bad:
        raise typer.Exit(BadInput.exit_code)


def _hear(folder: Path, unit: Unit, file: Path) -> list[Heard]:
    """Fresh ears for each file, so that nothing of one (its noise, a word that broke off) gets into the next."""
    ears = build.recogniser(folder, unit)
    heard: list[Heard] = []
    for block in Recording(file).blocks():
        heard += ears.feed(block)
    heard += ears.finish()
    return heard


def _summary(utterances: list[tuple[Heard, Understood]]) -> dict[str, object]:
    """All utterances of a file as one: the readings that stand at its end, and the kind that weighs most."""
    readings: list[Reading] = []
    for _, meant in utterances:
        if meant.correction or meant.takes_back:
            readings = [kept for kept in readings if meant.readings and kept.needle not in _needles(meant)]
        readings += meant.readings
    meanings = [meant for _, meant in utterances if meant.why != "talk"] or [meant for _, meant in utterances]
    order = ("reading", "command", "report", "answer", "unclear")
    kind = min((meant.kind for meant in meanings), key=order.index, default="unclear")
    return {
        "kind": kind,
        "readings": [reading.model_dump(include={"needle", "value", "unit"}) for reading in readings],
        "heard": " / ".join(heard.text for heard, _ in utterances),
        "why": _why(meanings) if kind == "unclear" else None,
        "reports": [report for meant in meanings for report in meant.reports],
        "answer": next((meant.answer for meant in meanings if meant.answer), None),
        "command": next((meant.command for meant in meanings if meant.command), None),
        "utterances": [_one(heard, meant) for heard, meant in utterances],
    }


def _needles(meant: Understood) -> set[str | None]:
    return {reading.needle for reading in meant.readings}


def _why(meanings: list[Understood]) -> str:
    return next((meant.why for meant in meanings if meant.why), "nothing heard")


def _one(heard: Heard, meant: Understood) -> dict[str, object]:
    levels = heard.model_dump(include={"start_ms", "end_ms", "level_db", "snr_db", "rivals"})
    return {**levels, **meant.model_dump(exclude_defaults=True, exclude={"readings": {"__all__": {"at_ms"}}})}


def _plain(file: Path, found: dict[str, object]) -> str:
    readings = found["readings"]
    assert isinstance(readings, list)
    values = ", ".join(f"{one['needle'] or 'needle'} {one['value']:g} {one['unit']}" for one in readings)
    said = [values, *found.get("reports", []), found.get("answer"), found.get("command")]  # type: ignore[misc]
    meaning = ", ".join(str(part) for part in said if part) or str(found["why"])
    return f"{file}: {found['kind']}: {meaning}  [{found['heard']}]"
