"""`gladhand settings`: what a check is begun with when nothing else is said, and where each value came from.

Law: one TOML file in the user's configuration folder, or the one that GLADHAND_SETTINGS names; an option of the command
line goes before it. A name that is not known there is an error, so that nothing is silently without effect.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import platformdirs
import typer
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from rich.console import Console
from rich.table import Table

from assistant import standards
from assistant.cli.asked import unit_of, vehicle_of
from assistant.core.events import Setup, VehicleClass
from assistant.core.trouble import BadInput
from assistant.mouth.voice import FASTEST_WPM, SLOWEST_WPM

VARIABLE = "GLADHAND_SETTINGS"
Origin = Literal["option", "settings file", "default"]
ASKED: VehicleClass = "combination"
"""Where nobody can be asked, a vehicle that was not told is the one with the most tests."""


class Settings(BaseModel):
    """Every setting with its default. None: not told; a live check asks for the vehicle, and for the standard when
    `standards` names several to choose from; a device or voice is the system's default."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    vehicle: str | None = Field(None, description="vehicle class")
    built: str = Field("since March 1997", description="when it was built")
    absent: tuple[str, ...] = Field((), description="parts that it does not have")
    standard: str | None = Field(None, description="the standard to judge by")
    standards: tuple[str, ...] = Field((), description="the standards to choose from by voice")
    needles: Literal[1, 2] = Field(2, description="needles of the gauge")
    unit: str = Field("psi", description="unit of a number spoken without one")
    gauge_mark: float | None = Field(None, description="pressure between two marks of the gauge")
    driver: str | None = Field(None, description="who does the check")
    fleet_number: str | None = Field(None, description="the vehicle's own number")
    route: str | None = Field(None, description="where it is going")
    microphone: str | None = Field(None, description="by name or a part of it")
    loudspeaker: str | None = Field(None, description="by name or a part of it")
    voice: str | None = Field(None, description="by name; `gladhand devices` lists them")
    rate: int = Field(160, ge=SLOWEST_WPM, le=FASTEST_WPM, description="words a minute")
    loudness: float = Field(1.0, ge=0, le=1, description="of the voice, 0 to 1")
    tones: bool = Field(True, description="signals besides words")
    keep_sound: bool = Field(True, description="keep each utterance beside the log")
    captions: bool = Field(False, description="plain lines instead of the screen for a glance")
    brief: bool = Field(False, description="short wording")
    log: Path | None = Field(None, description="folder, or .jsonl file, for the session log")

    def setup(self) -> Setup:
        """What a check is begun with, as far as it was told. Raises Trouble for a word that is none of the choices."""
        vehicle = vehicle_of(self.vehicle or ASKED, self.built, self.absent, gauge_mark=self.gauge_mark)
        return Setup(
            standard=self.standard or (self.standards[0] if self.standards else standards.DEFAULT),
            vehicle=vehicle.model_copy(update={"needles": self.needles}),
            unit=unit_of(self.unit),
            driver=self.driver,
            fleet_number=self.fleet_number,
            route=self.route,
        )


@dataclass(frozen=True)
class Effective:
    """The settings that hold, and for each where it came from."""

    settings: Settings
    origins: Mapping[str, Origin]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command()(settings)


def settings(
    file: Annotated[Path | None, typer.Option("--file", envvar=VARIABLE, help="Another settings file.")] = None,
) -> None:
    """Show the settings that hold and where each came from."""
    path = file or place()
    held = effective({}, path)
    held.settings.setup()
    for name in held.settings.standards:
        standards.load(name)
    console = Console(highlight=False)
    there = "" if path.is_file() else " (not there: write it to change a setting)"
    console.print(f"Settings file: {path}{there}", soft_wrap=True, markup=False)
    table = Table(box=None, pad_edge=False, show_header=False)
    for name, field in Settings.model_fields.items():
        value = getattr(held.settings, name)
        shown = ", ".join(value) if isinstance(value, tuple) else value
        text = "-" if shown in (None, "") else str(shown).lower() if isinstance(shown, bool) else str(shown)
        table.add_row(name, text, held.origins[name], field.description, style=_style(held.origins[name]))
    console.print(table)


def place() -> Path:
    """The settings file of this user; it may not exist."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else platformdirs.user_config_path("gladhand") / "settings.toml"


def effective(given: Mapping[str, object], path: Path | None = None) -> Effective:
    """`given`: what options say, None where they say nothing. `path`: the file, None: the usual one.

    Raises BadInput for a file that can't be read or holds what is no setting.
    """
    path = path or place()
    kept = _read(path)
    said = {name: value for name, value in given.items() if value is not None}
    _checked(kept, str(path))
    held = _checked({**kept, **said}, "The options")
    origins: dict[str, Origin] = {
        name: "option" if name in said else "settings file" if name in kept else "default"
        for name in Settings.model_fields
    }
    return Effective(held, origins)


def _read(path: Path) -> dict[str, object]:
    if not path.exists():
        return {}
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput(f"Can't read the settings in {path}: {error.strerror}.") from error
    except ValueError as error:
        raise BadInput(f'{path} is not a settings file: {error}. It has lines like: standard = "ontario"') from error


def _checked(values: Mapping[str, object], where: str) -> Settings:
    try:
        return Settings.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][0])
        if first["type"] == "extra_forbidden":
            known = ", ".join(Settings.model_fields)
            raise BadInput(f'{where}: there is no setting "{name}". There are: {known}.') from error
        raise BadInput(f'{where}: the setting "{name}" can\'t be used: {first["msg"]}.') from error


def _style(origin: Origin) -> str:
    return "dim" if origin == "default" else ""
