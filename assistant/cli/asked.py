"""What the commands about standards ask in common: the vehicle, the test, the user's own standards.

Law: a word that is none of the choices is answered with the choices.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, get_args

import typer

from assistant.core.events import MakerFigure, TestId, Unit, Vehicle, VehicleClass
from assistant.core.limit import Built, Part
from assistant.core.trouble import Trouble

StandardId = Annotated[str, typer.Option("--standard", help="The standard; `gladhand standards` lists them.")]
Class = Annotated[str, typer.Option("--vehicle", help=f"The vehicle class: {', '.join(get_args(VehicleClass))}.")]
BuildDate = Annotated[str, typer.Option("--built", help=f"When it was built: {', '.join(get_args(Built))}.")]
Absent = Annotated[
    list[str] | None, typer.Option("--absent", help=f"A part that it does not have: {', '.join(get_args(Part))}.")
]
OwnFolder = Annotated[Path | None, typer.Option("--standards-folder", help="Folder with your own standards (.toml).")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]


def one_of(word: str, choices: Sequence[str], what: str) -> str:
    """`word`, if it is a choice. Raises Trouble that names the choices."""
    if word not in choices:
        raise Trouble(f'There is no {what} "{word}". Choose one of: {", ".join(choices)}.')
    return word


def test_of(word: str) -> TestId:
    """Raises Trouble for what is no test."""
    one_of(word, get_args(TestId), "test")
    return next(test for test in get_args(TestId) if test == word)


def unit_of(word: str) -> Unit:
    """Raises Trouble for what is no unit."""
    one_of(word, get_args(Unit), "unit")
    return next(unit for unit in get_args(Unit) if unit == word)


def vehicle_of(
    vehicle_class: str,
    built: str,
    absent: Sequence[str] | None,
    *,
    gauge_mark: float | None = None,
    tank_volume: float | None = None,
    chamber_volume: float | None = None,
    maker: tuple[MakerFigure, ...] = (),
) -> Vehicle:
    """Raises Trouble for a class, date or part that is none, and for a figure that is not above 0."""
    for what, figure in (
        ("--gauge-mark", gauge_mark),
        ("--tank-volume", tank_volume),
        ("--chamber-volume", chamber_volume),
    ):
        if figure is not None and not 0 < figure < float("inf"):
            raise Trouble(f"{what} has to be a number above 0. Leave it out if it is not known.")
    return Vehicle.model_validate(
        {
            "vehicle_class": one_of(vehicle_class, get_args(VehicleClass), "vehicle class"),
            "built": one_of(built, get_args(Built), "build date"),
            "absent": tuple(one_of(part, get_args(Part), "part") for part in absent or ()),
            "gauge_mark": gauge_mark,
            "tank_volume": tank_volume,
            "chamber_volume": chamber_volume,
            "maker": maker,
        }
    )
