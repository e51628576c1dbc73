"""`gladhand rehearse`: a check of the simulated vehicle, by a trainee at the keyboard or by a simulated driver."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.console import Console
from rich.table import Table

from assistant import assets
from assistant.cab.rehearsal import Ears, TypedEars
from assistant.cab.spoken import SpokenEars, noise_of
from assistant.cab.trainee import TraineeCab
from assistant.cli import build
from assistant.cli.automatic import START_PSI, Compared, Gone, Rehearsal, Run, compare, go_through
from assistant.cli.chart import Trace, draw
from assistant.cli.dash import Dash
from assistant.cli.marks import show
from assistant.cli.model import ModelPath, ready
from assistant.core.events import Effect, Event, Heard, Setup
from assistant.core.hearing import understand
from assistant.core.trouble import Trouble
from assistant.log import SessionLog, default_folder, read
from assistant.mouth.console import Captions
from assistant.mouth.voice import FASTEST_WPM, Voice
from assistant.review.recital import debrief, mark
from assistant.review.replay import fold
from assistant.vehicle.cab import Happening
from assistant.vehicle.faults import Fault
from assistant.vehicle.habits import Habits
from assistant.vehicle.noise import Noise
from assistant.vehicle.orders import EXAMPLES
from assistant.vehicle.spec import VehicleSpec, load, shipped
from assistant.vehicle.surprise import surprise
from assistant.vehicle.vehicle import Vehicle

_WPM = (140, 180)
_OUTCOMES = {"pass": "PASS", "fail": "FAIL", "not judged": "NOT JUDGED"}


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(rehearse)


def rehearse(
    vehicle: Annotated[
        str, typer.Option("--vehicle", help=f"{', '.join(shipped())}, or a vehicle file.")
    ] = "combination",
    fault: Annotated[
        list[str] | None, typer.Option("--fault", help="NAME or NAME=SIZE of a hidden fault; may be given again.")
    ] = None,
    surprise_seed: Annotated[int | None, typer.Option("--surprise", help="Hide faults chosen by this seed.")] = None,
    standard: Annotated[str, typer.Option("--standard", help="The standard to judge by.")] = "common-practice",
    auto: Annotated[bool, typer.Option("--auto", help="A simulated driver does it all.")] = False,
    recite: Annotated[bool, typer.Option("--recite", help="Talk through it while doing it, and be marked.")] = False,
    typed: Annotated[bool, typer.Option("--typed", help="The simulated driver types.")] = False,
    voice: Annotated[bool, typer.Option("--voice", help="The simulated driver speaks, and is really heard.")] = False,
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
    spec = load(vehicle)
    given = tuple(map(Fault.parse, fault or ()))
    place = log or default_folder()
    if not auto:
        if typed or voice or noise or as_json or runs > 1:
            raise Trouble("--typed, --voice, --noise, --json and --runs are for the simulated driver: add --auto.")
        hidden = given + (surprise(spec, surprise_seed) if surprise_seed is not None else ())
        raise typer.Exit(_Keyboard(spec, hidden, standard, recite).run(place, fast, plot))
    if typed and (voice or noise):
        raise Trouble("Choose one of --typed and --voice; --noise goes with --voice.")
    if runs > 1 and (plot or place.suffix == ".jsonl"):
        raise Trouble("Several runs make several logs: give --log a folder, and leave out --plot.")
    automatic = _Automatic(spec, standard, place, plot, as_json, recite)
    automatic.ears(voice or noise is not None, noise, model)
    chosen = range(seed, seed + runs)
    hides = None if surprise_seed is None else range(surprise_seed, surprise_seed + runs)
    raise typer.Exit(automatic.run(given, chosen, hides))


class _Automatic:
    """Runs of the simulated driver, told as they end."""

    def __init__(
        self, spec: VehicleSpec, standard: str, place: Path, plot: Path | None, as_json: bool, recite: bool
    ) -> None:
        self._spec, self._standard, self._place, self._plot = spec, standard, place, plot
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
            faults = given + (surprise(self._spec, hidden) if hides is not None else ())
            run = self._one(faults, seed)
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
        rehearsal = Rehearsal(self._spec, faults, seed, Habits(), ears, self._standard, how)
        captions = _captions(self._console, self._recite)
        trace = Trace()
        try:
            run = rehearsal.run(
                self._place, None if self._as_json else captions.show, trace.look if self._plot else None
            )
        finally:
            if voice is not None:
                voice.close()
        if self._plot is not None:
            draw(trace, self._plot, rehearsal.vehicle.spec.title)
        return run

    def _tell(self, run: Run) -> None:
        if self._recite:
            _marks(self._console, Path(run.log))
        _reveal(self._console, run.faults, run.tests)
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


class _Keyboard:
    """A trainee at the keyboard."""

    def __init__(self, spec: VehicleSpec, faults: tuple[Fault, ...], standard: str, recite: bool) -> None:
        self._console = Console(highlight=False)
        self._vehicle = Vehicle(spec, faults, start_psi=START_PSI)
        self._setup = Setup(standard=standard, vehicle=spec.record, recital="asked" if recite else None)
        self._captions = _captions(self._console, recite)
        self._dash = Dash(self._console)
        self._trace = Trace()

    def run(self, place: Path, fast: bool, plot: Path | None) -> int:
        """The exit code: 1 when the check was not finished."""
        cab = TraineeCab(
            self._vehicle,
            (line.rstrip("\r\n") for line in sys.stdin),
            jump=fast,
            understood=self._understood,
            look=self._look,
            refused=lambda why: self._console.print(f"      ({why})", markup=False),
        )
        log = SessionLog.create(place, build.header(self._setup, "rehearsal"))
        self._dash.open()
        self._console.print(f"Say what you do: {EXAMPLES}. Everything else goes to the assistant.\n", markup=False)
        try:
            gone = go_through(self._setup, log, cab, self._watch)
        finally:
            self._dash.close()
        if plot is not None:
            draw(self._trace, plot, self._vehicle.spec.title)
        self._close(gone, log.path)
        return 0 if gone.finished else 1

    def _close(self, gone: Gone, log: Path) -> None:
        self._console.print()
        if self._setup.recital is not None:
            _marks(self._console, log)
        found = compare(self._vehicle, self._setup, gone.verdicts)
        _reveal(self._console, tuple(map(str, self._vehicle.faults)), found)
        self._console.print(f"Session log: {log}", soft_wrap=True, markup=False)

    def _understood(self, line: str) -> bool:
        if self._setup.recital is not None:
            return True  # what a trainee does is said as well
        heard = Heard(text=line, start_ms=0, end_ms=0, by="typed")
        return understand(heard, build.language(), self._setup.unit).kind != "unclear"

    def _look(self, vehicle: Vehicle, heard: tuple[Happening, ...]) -> None:
        self._dash.look(vehicle, heard)
        self._trace.look(vehicle)

    def _watch(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
        self._captions.show(at_ms, event, effects)


def _captions(console: Console, recite: bool) -> Captions:
    """In a recital everything that is said counts, and stays as it was said."""
    return Captions(console, assets.prompts(), str if recite else build.language().written, all_counts=recite)


def _marks(console: Console, log: Path) -> None:
    """The marks of the recital in a log."""
    kept = read(log)
    flow = build.recital_for(kept.header.setup)
    state = fold(flow, kept.entries)
    show(console, assets.prompts(), flow.scheme, debrief(flow.scheme, mark(flow.scheme, state.heard)))


def _reveal(console: Console, faults: tuple[str, ...], tests: tuple[Compared, ...]) -> None:
    """What was hidden, and whether the check has found it."""
    table = Table("test", "the vehicle", "the check", "", title="What was found", title_justify="left")
    for test in tests:
        note = "" if test.verdict == test.truth else "too near to tell" if test.truth == "near" else ""
        note = "wrong" if test.wrong else note
        table.add_row(test.test, test.truth, _OUTCOMES[test.verdict], note)
    console.print(table)
    console.print(f"Hidden in the vehicle: {', '.join(faults) or 'nothing'}.", markup=False)
    to_find = [test for test in tests if test.truth == "fail"]
    found = [test.test for test in to_find if test.verdict == "fail"]
    if not faults:
        said = "There was nothing to find."
    elif not to_find:
        said = "No test of this check shows it clearly."
    elif found:
        said = f"Found, by: {', '.join(found)}."
    else:
        said = f"Not found. It shows in: {', '.join(test.test for test in to_find)}."
    console.print(said, markup=False)
