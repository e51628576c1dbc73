"""`gladhand check` and `gladhand demo`: a whole brake check, from a recording, the keyboard or the microphone."""

from __future__ import annotations

import sys
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from assistant import __version__, assets
from assistant.cab.pace import BREATH_MS, READING_MS, Pace, PaceName
from assistant.cab.recording import RecordingCab
from assistant.cab.typed import TypedCab
from assistant.cli import build
from assistant.cli.asked import Absent, BuildDate, Class, unit_of, vehicle_of
from assistant.cli.model import ModelPath, ready
from assistant.core.dialogue import State
from assistant.core.events import Begun, Effect, Event, Setup, Unit, Vehicle
from assistant.core.trouble import Trouble
from assistant.ears.recording import Recording
from assistant.log import Header, SessionLog, default_folder, reopen
from assistant.mouth.console import Captions, speaking_ms
from assistant.mouth.loudspeaker import Loudspeaker
from assistant.review.replay import fold
from assistant.session import Cab, Session
from assistant.soundcard.hush import hushed

Standard = Annotated[str, typer.Option("--standard", help="The standard to judge by; `gladhand standards` lists them.")]
Needles = Annotated[int, typer.Option("--needles", min=1, max=2, help="How many needles the gauge has.")]
UnitName = Annotated[str, typer.Option("--unit", help="The unit of a number spoken without one: psi or kPa.")]
Mark = Annotated[float | None, typer.Option("--gauge-mark", help="Pressure between two marks of the gauge.")]
Driver = Annotated[str | None, typer.Option("--driver", help="Who does the check.")]
FleetNumber = Annotated[str | None, typer.Option("--fleet-number", help="The vehicle's own number.")]
Route = Annotated[str | None, typer.Option("--route", help="Where it is going.")]
LogPlace = Annotated[Path | None, typer.Option("--log", help="Folder, or .jsonl file, for the session log.")]
RealTime = Annotated[bool, typer.Option("--real-time", help="Follow a recording as it was, with all waiting.")]
Fast = Annotated[bool, typer.Option("--fast", help="Do not wait at all; typed holds are over at once.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Captions only, nothing to the loudspeaker.")]
Brief = Annotated[bool, typer.Option("--brief", help="Short wording, for drivers who know the check.")]

_CALM_WPM = 190
_HURRIED_WPM = 260  # a demo is followed with captions beside it


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command()(check)
    app.command()(demo)


def check(
    recording: Annotated[Path | None, typer.Option("--recording", help="A sound file of the driver's voice.")] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Answer from the keyboard.")] = False,
    resume: Annotated[Path | None, typer.Option("--resume", help="Go on with the check in this session log.")] = None,
    standard: Standard = "common-practice",
    vehicle: Class = "combination",
    built: BuildDate = "since March 1997",
    absent: Absent = None,
    needles: Needles = 2,
    unit: UnitName = "psi",
    gauge_mark: Mark = None,
    driver: Driver = None,
    fleet_number: FleetNumber = None,
    route: Route = None,
    log: LogPlace = None,
    model: ModelPath = None,
    real_time: RealTime = False,
    fast: Fast = False,
    quiet: Quiet = False,
    brief: Brief = False,
) -> None:
    """Do a whole air brake check by voice."""
    if typed == (recording is not None):
        raise Trouble("Say where the driver is to be heard from: --recording FILE, or --typed.")
    run = Run(quiet=quiet, brief=brief)
    pace = _pace(real_time, fast)
    cab = run.recorded(recording, model, pace, unit_of(unit)) if recording else run.typed(fast)
    if resume is not None:
        state = run.resume(resume, cab)
    else:
        made = vehicle_of(vehicle, built, absent, gauge_mark=gauge_mark).model_copy(update={"needles": needles})
        setup = Setup(
            standard=standard,
            vehicle=made,
            unit=unit_of(unit),
            driver=driver,
            fleet_number=fleet_number,
            route=route,
        )
        state = run.begin(setup, cab, log or default_folder(), recording)
    failed = any(verdict.outcome == "fail" for verdict in state.verdicts.values())
    raise typer.Exit(1 if failed or run.incomplete(state) else 0)


def demo(
    log: LogPlace = None,
    model: ModelPath = None,
    real_time: RealTime = False,
    fast: Fast = False,
    quiet: Quiet = False,
) -> None:
    """Hear and see a recorded driver go through a whole check of a tractor with one trailer."""
    folder = assets.demo()
    about = tomllib.loads((folder / "manifest.toml").read_text(encoding="utf-8"))
    setup = Setup(
        standard=about["standard"],
        vehicle=Vehicle(vehicle_class=about["vehicle"]),
        driver=about["driver"],
        fleet_number=about["fleet_number"],
        route=about["route"],
    )
    run = Run(quiet=quiet, brief=True)
    run.console.print(f"{setup.driver} checks {setup.fleet_number} before {setup.route}. All of it is invented.\n")
    recording = folder / about["recording"]
    state = run.begin(setup, run.recorded(recording, model, _pace(real_time, fast)), log or default_folder(), recording)
    raise typer.Exit(1 if run.incomplete(state) else 0)


def _pace(real_time: bool, fast: bool) -> PaceName:
    if real_time and fast:
        raise Trouble("Choose one of --real-time and --fast.")
    return "real time" if real_time else "fast" if fast else "shortened"


class Run:
    """What one run of the command prints to and speaks with."""

    def __init__(self, *, quiet: bool, brief: bool) -> None:
        self.console = Console(highlight=False)
        self.prompts = assets.prompts(brief=brief)
        self.captions = Captions(self.console, self.prompts, build.language().written)
        self._quiet = quiet

    def recorded(self, recording: Path, model: Path | None, pace: PaceName, unit: Unit = "psi") -> RecordingCab:
        """A cab that plays a sound file into the ears. Raises BadInput for the file, Missing for the model."""
        sound = Recording(recording)
        ears = build.recogniser(ready(model, self.console), unit)
        silent = self._quiet or pace == "fast"
        speaker = None if silent else Loudspeaker(self._warn, _HURRIED_WPM if pace == "shortened" else _CALM_WPM)
        spoken = speaker is not None and speaker.speaks
        return RecordingCab(
            sound,
            ears,
            Pace(pace, BREATH_MS if spoken else READING_MS),
            speaking_ms=speaking_ms,
            speaker=speaker,
            skipped=self.captions.skipped,
        )

    def typed(self, fast: bool) -> TypedCab:
        """A cab that listens to the keyboard."""
        lines = (line.rstrip("\r\n") for line in sys.stdin)
        return TypedCab(lines, jump=fast, speaking_ms=speaking_ms)

    def begin(self, setup: Setup, cab: Cab, place: Path, recording: Path | None) -> State:
        """Run a new check in `cab`, with its log in `place`."""
        header = Header(
            program=f"gladhand {__version__}",
            created=datetime.now().astimezone().isoformat(timespec="milliseconds"),
            setup=setup,
            fingerprints=build.fingerprints(setup, **({"recording": recording} if recording else {})),
            mode="recording" if recording else "typed",
            recording=recording.name if recording else None,
        )
        dialogue = build.dialogue_for(setup)
        session = Session(dialogue, self.prompts, SessionLog.create(place, header), cab, self._watch)
        with hushed():
            state = session.begin(Begun(setup=setup))
        return self._told_where(session, state)

    def resume(self, path: Path, cab: Cab) -> State:
        """Go on with the interrupted check of a session log."""
        log, kept = reopen(path)
        dialogue = build.dialogue_for(kept.header.setup)
        state = fold(dialogue, kept.entries)
        session = Session(dialogue, self.prompts, log, cab, self._watch)
        with hushed():
            state = session.resume(state, kept.entries[-1].t_ms)
        return self._told_where(session, state)

    def _warn(self, why: str) -> None:
        self.console.print(why, style="yellow")

    def incomplete(self, state: State) -> bool:
        return not state.finished(build.dialogue_for(state.setup).plan)

    def _watch(self, at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
        self.captions.show(at_ms, event, effects)

    def _told_where(self, session: Session, state: State) -> State:
        """The last lines: where the log is, its head, and how to go through it again."""
        path = session.log.path
        lines = [
            f"Session log: {path}",
            f"Its head is {session.log.head}. Note it elsewhere to show later that nothing was changed.",
            f"Replay it:   gladhand replay {path}",
            f"Verify it:   gladhand replay {path} --verify",
        ]
        if self.incomplete(state):
            lines.append(f"Go on:       gladhand check --typed --resume {path}")
        self.console.print("\n" + "\n".join(lines), soft_wrap=True, markup=False)
        return state
