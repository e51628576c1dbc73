"""`gladhand rehearse`: a check of the simulated vehicle, by a trainee at the keyboard or by a simulated driver."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.console import Console

from assistant.cab.rehearsal import Ears, TypedEars
from assistant.cab.spoken import SpokenEars, noise_of
from assistant.cli import build
from assistant.cli.automatic import Rehearsal, Run
from assistant.cli.chart import Trace, draw
from assistant.cli.model import ModelPath, ready
from assistant.cli.revealed import captions, reveal, show_marks
from assistant.cli.settings import effective
from assistant.cli.trainee import Trainee
from assistant.core.trouble import Trouble
from assistant.log import default_folder
from assistant.mouth.voice import FASTEST_WPM, Voice
from assistant.vehicle.faults import Fault
from assistant.vehicle.habits import Habits
from assistant.vehicle.noise import Noise
from assistant.vehicle.scenario import Scenario
from assistant.vehicle.spec import shipped
from assistant.vehicle.surprise import surprise

_WPM = (140, 180)


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(rehearse)


def rehearse(
    vehicle: Annotated[
        str | None, typer.Option("--vehicle", help=f"{', '.join(shipped())}, or a vehicle file.")
    ] = None,
    scenario: Annotated[
        Path | None, typer.Option("--scenario", help="A file that names the vehicle, its faults and its pressure.")
    ] = None,
    fault: Annotated[
        list[str] | None, typer.Option("--fault", help="NAME or NAME=SIZE of a hidden fault; may be given again.")
    ] = None,
    surprise_seed: Annotated[int | None, typer.Option("--surprise", help="Hide faults chosen by this seed.")] = None,
    standard: Annotated[str, typer.Option("--standard", help="The standard to judge by.")] = "common-practice",
    auto: Annotated[bool, typer.Option("--auto", help="A simulated driver does it all.")] = False,
    recite: Annotated[bool, typer.Option("--recite", help="Talk through it while doing it, and be marked.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="Typed, by you or with --auto: the default.")] = False,
    voice: Annotated[
        bool, typer.Option("--voice", help="Spoken and really heard: by you into the microphone, or with --auto.")
    ] = False,
    sounds: Annotated[
        bool | None, typer.Option("--sounds/--no-sounds", help="Hear the cab: engine, buzzer, knobs. With --voice: on.")
    ] = None,
    noise: Annotated[
        str | None, typer.Option("--noise", help="Noise with --voice: name and dB below the speech, as diesel:10.")
    ] = None,
    runs: Annotated[int, typer.Option("--runs", min=1, help="How many automatic runs, each with the next seed.")] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Of the simulated driver.")] = 1,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object for each automatic run and line.")] = False,
    plot: Annotated[Path | None, typer.Option("--plot", help="Save a chart of the needles (.png, .svg).")] = None,
    fast: Annotated[bool, typer.Option("--fast", help="Time goes on by what is said: wait 30.")] = False,
    log: Annotated[Path | None, typer.Option("--log", help="Folder, or .jsonl file, for the session log.")] = None,
    model: ModelPath = None,
) -> None:
    """Do a whole check of a vehicle that is only simulated, with hidden faults to find."""
    scene = _scene(vehicle, scenario)
    given = tuple(map(Fault.parse, fault or ()))
    place = log or default_folder()
    if typed and (voice or noise):
        raise Trouble("Choose one of --typed and --voice; --noise goes with --voice.")
    if not auto:
        if noise or as_json or runs > 1:
            raise Trouble("--noise, --json and --runs are for the simulated driver: add --auto.")
        if fast and (voice or sounds):
            raise Trouble("--fast is for the keyboard: who speaks or listens needs real time.")
        heard = voice if sounds is None else sounds
        standing = scene.standing(given + _hidden(scene, surprise_seed))
        trainee = Trainee(standing, standard, recite, effective({}).settings, sounds=heard)
        if voice:
            raise typer.Exit(trainee.spoken(place, ready(model, Console(highlight=False)), plot))
        raise typer.Exit(trainee.typed(place, fast, plot))
    if runs > 1 and (plot or place.suffix == ".jsonl"):
        raise Trouble("Several runs make several logs: give --log a folder, and leave out --plot.")
    automatic = _Automatic(scene, standard, place, plot, as_json, recite)
    automatic.ears(voice or noise is not None, noise, model)
    chosen = range(seed, seed + runs)
    hides = None if surprise_seed is None else range(surprise_seed, surprise_seed + runs)
    raise typer.Exit(automatic.run(given, chosen, hides))


def _scene(vehicle: str | None, file: Path | None) -> Scenario:
    """Raises Trouble when the vehicle is named twice, BadInput when the file can't be used."""
    if file is None:
        return Scenario() if vehicle is None else Scenario(vehicle=vehicle)
    if vehicle is not None:
        raise Trouble("The scenario names its vehicle: leave out --vehicle.")
    return Scenario.from_toml(file)


def _hidden(scene: Scenario, seed: int | None) -> tuple[Fault, ...]:
    """The faults that a seed hides in the vehicle."""
    return () if seed is None else surprise(scene.spec, seed)


class _Automatic:
    """Runs of the simulated driver, told as they end."""

    def __init__(
        self, scenario: Scenario, standard: str, place: Path, plot: Path | None, as_json: bool, recite: bool
    ) -> None:
        self._scenario, self._standard, self._place, self._plot = scenario, standard, place, plot
        self._as_json, self._recite = as_json, recite
        self._console = Console(highlight=False, stderr=as_json)
        self._spoken = False
        self._noise: tuple[Noise, float] | None = None
        self._model: Path | None = None

    def ears(self, spoken: bool, noise: str | None, model: Path | None) -> None:
        """How the driver is heard. Raises BadInput for the noise, Missing for the model."""
        self._spoken = spoken
        self._noise = noise_of(noise) if noise else None
        self._model = ready(model, self._console) if spoken else None

    def run(self, given: tuple[Fault, ...], seeds: Iterable[int], hides: Iterable[int] | None) -> int:
        """The exit code: 1 when a verdict was wrong or a run did not come to its end."""
        chosen = list(seeds)
        bad = 0
        for seed, hidden in zip(chosen, hides or chosen, strict=True):
            run = self._one(given + _hidden(self._scenario, None if hides is None else hidden), seed)
            bad += not run.finished or any(test.wrong for test in run.tests)
            if self._as_json:
                typer.echo(run.model_dump_json(exclude={"finished"}, exclude_none=True))
            else:
                self._tell(run)
        return int(bool(bad))

    def _one(self, faults: tuple[Fault, ...], seed: int) -> Run:
        voice = Voice(rate_wpm=min(FASTEST_WPM, _WPM[0] + seed * 7 % (_WPM[1] - _WPM[0]))) if self._spoken else None
        ears: Ears = TypedEars()
        if voice is not None and self._model is not None:
            ears = SpokenEars(build.recogniser(self._model, free=self._recite), voice, self._noise, seed)
        how: Literal["strict"] | None = "strict" if self._recite else None
        rehearsal = Rehearsal(self._scenario.standing(faults), seed, Habits(), ears, self._standard, how)
        lines = captions(self._console, self._recite)
        trace = Trace()
        try:
            run = rehearsal.run(self._place, None if self._as_json else lines.show, trace.look if self._plot else None)
        finally:
            if voice is not None:
                voice.close()
        if self._plot is not None:
            draw(trace, self._plot, rehearsal.vehicle.spec.title)
        return run

    def _tell(self, run: Run) -> None:
        if self._recite:
            show_marks(self._console, Path(run.log))
        reveal(self._console, run.faults, run.tests)
        if self._recite:
            self._console.print(f"Session log: {run.log}", soft_wrap=True, markup=False)
            return
        speed = run.simulated_s / run.wall_s if run.wall_s else 0.0
        self._console.print(
            f"{run.readings_spoken} readings spoken, {run.readings_wrong} wrong on the record, {run.asks} asked again. "
            f"{run.simulated_s:.0f} simulated seconds in {run.wall_s:.1f} ({speed:.0f} times real time).\n"
            f"Session log: {run.log}",
            soft_wrap=True,
            markup=False,
        )
