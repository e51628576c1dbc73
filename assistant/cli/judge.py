"""`gladhand judge`: would this reading pass? The verdict of a standard on given readings, without a check."""

from __future__ import annotations

import json
from typing import Annotated, get_args

import typer
from rich.console import Console
from rich.table import Column, Table

from assistant import assets, standards
from assistant.cli.asked import (
    Absent,
    BuildDate,
    Class,
    Json,
    OwnFolder,
    StandardId,
    one_of,
    test_of,
    unit_of,
    vehicle_of,
)
from assistant.core.causes import causes
from assistant.core.evaluator import evaluate
from assistant.core.events import Line, MakerFigure, Needle, Observation, Reading, TestId, Unit, Vehicle, Verdict
from assistant.core.limit import QUANTITY
from assistant.core.prompts import Prompts
from assistant.core.standard import Standard
from assistant.core.trouble import Trouble

Values = Annotated[list[str] | None, typer.Option("--reading", help="The gauge at the event: 57, or secondary=57.")]
From = Annotated[list[str] | None, typer.Option("--from", help="The gauge at the start: 118, or primary=118.")]
To = Annotated[list[str] | None, typer.Option("--to", help="The gauge at the end: 115.5, or primary=115.5.")]

_ANSWERS = {
    "light": ("on", "off"),
    "buzzer": ("on", "off"),
    "popped": ("yes", "no", "not fitted"),
    "lines": ("coupled", "open"),
    "held": ("held", "moved"),
    "felt": ("yes", "no"),
    "pull": ("straight", "left", "right"),
}


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(judge)


def judge(
    test: Annotated[str, typer.Argument(help=f"The test: {', '.join(get_args(TestId))}.")],
    reading: Values = None,
    start: From = None,
    end: To = None,
    seconds: Annotated[float | None, typer.Option("--seconds", help="How long the hold or the rise took.")] = None,
    light: Annotated[str | None, typer.Option("--light", help="Warning light: on or off.")] = None,
    buzzer: Annotated[str | None, typer.Option("--buzzer", help="Buzzer: on or off.")] = None,
    popped: Annotated[str | None, typer.Option("--popped", help="The knob: yes, no or not fitted.")] = None,
    lines: Annotated[str | None, typer.Option("--lines", help="Trailer lines: coupled or open.")] = None,
    held: Annotated[str | None, typer.Option("--held", help="Tug test: held or moved.")] = None,
    felt: Annotated[str | None, typer.Option("--felt", help="Trailer brakes: yes or no.")] = None,
    pull: Annotated[str | None, typer.Option("--pull", help="Low-speed stop: straight, left or right.")] = None,
    not_done: Annotated[str | None, typer.Option("--not-done", help="Why it was not done.")] = None,
    within: Annotated[float, typer.Option("--within", help="Half the width of a range: 87.5 within 2.5.")] = 0.0,
    cut_out: Annotated[float | None, typer.Option("--cut-out", help="Governor cut-out, if known.")] = None,
    cut_in: Annotated[float | None, typer.Option("--cut-in", help="Governor cut-in, if known.")] = None,
    unit: Annotated[str, typer.Option("--unit", help="The unit of all pressures: psi or kPa.")] = "psi",
    standard: StandardId = standards.DEFAULT,
    every: Annotated[bool, typer.Option("--all-standards", help="Side by side by every standard.")] = False,
    vehicle: Class = "combination",
    built: BuildDate = "since March 1997",
    absent: Absent = None,
    gauge_mark: Annotated[float | None, typer.Option("--gauge-mark", help="Pressure between two marks.")] = None,
    tank_volume: Annotated[float | None, typer.Option("--tank-volume", help="Power unit's tanks.")] = None,
    chamber_volume: Annotated[float | None, typer.Option("--chamber-volume", help="Its service chambers.")] = None,
    maker_at_least: Annotated[float | None, typer.Option("--maker-at-least", help="Maker's lower figure.")] = None,
    maker_at_most: Annotated[float | None, typer.Option("--maker-at-most", help="Maker's upper figure.")] = None,
    maker_where: Annotated[str, typer.Option("--maker-where", help="Where it is printed.")] = "as given",
    folder: OwnFolder = None,
    as_json: Json = False,
) -> None:
    """Ask what a standard says to a reading: pass, fail or not judged, with limit, margin, reason and source."""
    kind, measure = test_of(test), unit_of(unit)
    answers = {"light": light, "buzzer": buzzer, "popped": popped, "lines": lines, "held": held}
    readings = _slots(kind, measure, reading, start, end)
    observation = Observation(
        test=kind,
        readings=readings,
        seconds=_finite(seconds, "--seconds"),
        answers=_answers({**answers, "felt": felt, "pull": pull}),
        not_done=not_done,
        within=dict.fromkeys(readings, _finite(within, "--within") or 0.0),
    )
    about = vehicle_of(
        vehicle,
        built,
        absent,
        gauge_mark=gauge_mark,
        tank_volume=tank_volume,
        chamber_volume=chamber_volume,
        maker=_maker(kind, measure, maker_at_least, maker_at_most, maker_where),
    )
    earlier = _earlier(measure, {"governor-cut-out": cut_out, "governor-cut-in": cut_in})
    chosen = standards.all_standards(folder) if every else (standards.load(standard, folder),)
    _tell([(one, evaluate(observation, one, about, earlier)) for one in chosen], about, every, as_json)


def _finite(number: float | None, option: str) -> float | None:
    """Raises Trouble for nan, inf and less than 0."""
    if number is not None and not 0 <= number < float("inf"):
        raise Trouble(f"{option} has to be a number, 0 or more.")
    return number


def _slots(
    test: TestId, unit: Unit, reading: list[str] | None, start: list[str] | None, end: list[str] | None
) -> dict[str, tuple[Reading, ...]]:
    """The readings by slot. Raises Trouble for an option that the test has no use for."""
    quantity = QUANTITY[test]
    uses = {"pressure": ("--reading",), "loss": ("--from", "--to"), "time": ("--from", "--to"), "answer": ()}[quantity]
    names = {"--reading": "at", "--from": "first" if quantity == "loss" else "from"}
    names |= {"--to": "last" if quantity == "loss" else "to"}
    slots: dict[str, tuple[Reading, ...]] = {}
    for option, values in (("--reading", reading), ("--from", start), ("--to", end)):
        if values and option not in uses:
            raise Trouble(f"{option} says nothing about {test}. It takes: {', '.join(uses) or 'no reading'}.")
        if values:
            slots[names[option]] = tuple(_reading(value, unit) for value in values)
    return slots


def _reading(text: str, unit: Unit) -> Reading:
    """Raises Trouble for what is no reading."""
    needle, _, value = text.rpartition("=")
    named: dict[str, Needle | None] = {"": None, "primary": "primary", "secondary": "secondary"}
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    if needle not in named or not abs(number) < float("inf"):
        raise Trouble(f'"{text}" is no reading. Give a number, or primary= or secondary= and a number.')
    return Reading(value=number, unit=unit, needle=named[needle])


def _answers(given: dict[str, str | None]) -> dict[str, str]:
    return {key: one_of(word, _ANSWERS[key], f"answer to --{key}") for key, word in given.items() if word is not None}


def _maker(
    test: TestId, unit: Unit, at_least: float | None, at_most: float | None, where: str
) -> tuple[MakerFigure, ...]:
    if at_least is None and at_most is None:
        return ()
    low, high = _finite(at_least, "--maker-at-least"), _finite(at_most, "--maker-at-most")
    measure = "s" if QUANTITY[test] == "time" else unit
    return (MakerFigure(test=test, at_least=low, at_most=high, unit=measure, where=where),)


def _earlier(unit: Unit, given: dict[TestId, float | None]) -> dict[TestId, Observation]:
    return {
        test: Observation(test=test, readings={"at": (Reading(value=value, unit=unit),)})
        for test, value in given.items()
        if _finite(value, f"--{test.removeprefix('governor-')}") is not None and value is not None
    }


def _tell(verdicts: list[tuple[Standard, Verdict]], vehicle: Vehicle, every: bool, as_json: bool) -> None:
    prompts = assets.prompts()
    if as_json:
        records = [_record(standard, vehicle, verdict, prompts) for standard, verdict in verdicts]
        typer.echo(json.dumps(records if every else records[0], indent=2))
    elif every:
        _print_all(verdicts, prompts)
    else:
        _print_one(*verdicts[0], prompts)


def _record(standard: Standard, vehicle: Vehicle, verdict: Verdict, prompts: Prompts) -> dict[str, object]:
    about = standard.model_dump(by_alias=True, include={"title", "edition", "date", "kind", "meaning"})
    return {
        "test": verdict.test,
        "verdict": verdict.outcome,
        "limit": verdict.limit,
        "margin": verdict.margin,
        "unit": verdict.unit,
        "needle": verdict.needle,
        "reason": prompts.full(verdict.reason),
        "reason_id": verdict.reason.prompt,
        "source": verdict.source,
        "consequence": verdict.consequence,
        "notes": [prompts.full(note) for note in verdict.notes],
        "causes": [prompts.full(cause) for cause in causes(verdict)],
        "vehicle": vehicle.vehicle_class,
        "standard": standard.id,
        **about,
    }


def _margin(verdict: Verdict) -> str:
    return "" if verdict.margin is None else f"{verdict.margin:+g} {verdict.unit}"


def _print_one(standard: Standard, verdict: Verdict, prompts: Prompts) -> None:
    console = Console(highlight=False)
    name = prompts.full(Line(prompt=f"test.{verdict.test}"))
    lines = [f"{name[:1].upper()}{name[1:]}: {verdict.outcome}. {prompts.full(verdict.reason)}"]
    lines += [prompts.full(note) for note in verdict.notes]
    lines += [f"Limit: {verdict.limit}." + (f" Margin: {_margin(verdict)}." if _margin(verdict) else "")]
    lines += [f"Source: {verdict.source}. Standard: {standard.id}."]
    if verdict.consequence:
        lines += [prompts.full(Line(prompt=f"consequence.{verdict.consequence}"))]
    lines += [prompts.full(cause) for cause in causes(verdict)]
    console.print("\n".join([*lines, standard.meaning]), markup=False, soft_wrap=True)


def _print_all(verdicts: list[tuple[Standard, Verdict]], prompts: Prompts) -> None:
    table = Table(Column("Standard", no_wrap=True, min_width=25), "Verdict", "Limit", "Reason, source", show_lines=True)
    for standard, verdict in verdicts:
        outcome = "\n".join(part for part in (verdict.outcome, _margin(verdict)) if part)
        about = f"{prompts.full(verdict.reason)}\n{verdict.source}; {standard.kind}."
        table.add_row(standard.id, outcome, verdict.limit, about)
    Console(highlight=False).print(table)
