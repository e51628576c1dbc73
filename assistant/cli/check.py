"""`gladhand check` and `gladhand demo`: a whole brake check, from the microphone, a recording or the keyboard."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Annotated, get_args

import typer

from assistant import assets
from assistant.cab.pace import BREATH_MS, READING_MS, Pace, PaceName
from assistant.cab.recording import RecordingCab
from assistant.cab.typed import TypedCab
from assistant.cli import build, live
from assistant.cli.asked import Absent, unit_of
from assistant.cli.model import ModelPath, ready
from assistant.cli.running import Run
from assistant.cli.settings import Settings, effective
from assistant.core.events import Setup, Unit, Vehicle, VehicleClass
from assistant.core.limit import Built
from assistant.core.trouble import Trouble
from assistant.ears.recording import Recording
from assistant.log import default_folder
from assistant.mouth.console import speaking_ms
from assistant.mouth.loudspeaker import Loudspeaker

Standard = Annotated[
    str | None, typer.Option("--standard", help="The standard to judge by; `gladhand standards` lists them.")
]
Class = Annotated[str | None, typer.Option("--vehicle", help=f"Its class: {', '.join(get_args(VehicleClass))}.")]
BuildDate = Annotated[str | None, typer.Option("--built", help=f"When it was built: {', '.join(get_args(Built))}.")]
Needles = Annotated[int | None, typer.Option("--needles", min=1, max=2, help="How many needles the gauge has.")]
UnitName = Annotated[str | None, typer.Option("--unit", help="The unit of a number spoken without one: psi or kPa.")]
Mark = Annotated[float | None, typer.Option("--gauge-mark", help="Pressure between two marks of the gauge.")]
Driver = Annotated[str | None, typer.Option("--driver", help="Who does the check.")]
FleetNumber = Annotated[str | None, typer.Option("--fleet-number", help="The vehicle's own number.")]
Route = Annotated[str | None, typer.Option("--route", help="Where it is going.")]
LogPlace = Annotated[Path | None, typer.Option("--log", help="Folder, or .jsonl file, for the session log.")]
RealTime = Annotated[bool, typer.Option("--real-time", help="Follow a recording as it was, with all waiting.")]
Fast = Annotated[bool, typer.Option("--fast", help="Do not wait at all; typed holds are over at once.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Captions only, nothing to the loudspeaker.")]
Brief = Annotated[bool | None, typer.Option("--brief/--full", help="Short wording, for drivers who know the check.")]
MicrophoneName = Annotated[str | None, typer.Option("--microphone", help="By its name or a part of it.")]
LoudspeakerName = Annotated[str | None, typer.Option("--loudspeaker", help="By its name or a part of it.")]
VoiceId = Annotated[str | None, typer.Option("--voice", help="The voice; `gladhand devices` lists them.")]
Rate = Annotated[int | None, typer.Option("--rate", help="Words a minute.")]
Loudness = Annotated[float | None, typer.Option("--loudness", help="Of the voice, 0 to 1.")]
Tones = Annotated[bool | None, typer.Option("--tones/--no-tones", help="Signals besides words.")]
KeepSound = Annotated[bool | None, typer.Option("--keep-sound/--no-keep-sound", help="Keep what is said, as FLAC.")]
CaptionsOnly = Annotated[bool | None, typer.Option("--captions/--glance", help="Plain lines, or the large screen.")]

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
    standard: Standard = None,
    vehicle: Class = None,
    built: BuildDate = None,
    absent: Absent = None,
    needles: Needles = None,
    unit: UnitName = None,
    gauge_mark: Mark = None,
    driver: Driver = None,
    fleet_number: FleetNumber = None,
    route: Route = None,
    log: LogPlace = None,
    model: ModelPath = None,
    real_time: RealTime = False,
    fast: Fast = False,
    quiet: Quiet = False,
    brief: Brief = None,
    microphone: MicrophoneName = None,
    loudspeaker: LoudspeakerName = None,
    voice: VoiceId = None,
    rate: Rate = None,
    loudness: Loudness = None,
    tones: Tones = None,
    keep_sound: KeepSound = None,
    captions: CaptionsOnly = None,
) -> None:
    """Do a whole air brake check by voice: hands free, or from a recording or the keyboard.

    What no option says comes from your settings; `gladhand settings` shows them.
    """
    if typed and recording is not None:
        raise Trouble("Choose one of --recording FILE and --typed, or neither for the microphone.")
    given = {name: value for name, value in locals().items() if name in Settings.model_fields}
    held = effective(given).settings
    pace = _pace(real_time, fast)
    if typed or recording is not None:
        run = Run("typed" if typed else "recording", brief=held.brief, unit=unit_of(held.unit))
        cab = _recorded(run, recording, model, pace, held.setup().unit, quiet) if recording else _typed(fast)
        state = run.resume(resume, cab) if resume else run.begin(held.setup(), cab, _place(held), recording)
    else:
        run = Run("live", brief=held.brief, unit=unit_of(held.unit))
        state = live.check(run, held, model, resume, quiet=quiet)
    run.tell_where(state)
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
    run = Run("recording", brief=True)
    run.console.print(f"{setup.driver} checks {setup.fleet_number} before {setup.route}. All of it is invented.\n")
    recording = folder / about["recording"]
    cab = _recorded(run, recording, model, _pace(real_time, fast), setup.unit, quiet)
    state = run.begin(setup, cab, log or default_folder(), recording)
    run.tell_where(state)
    raise typer.Exit(1 if run.incomplete(state) else 0)


def _place(held: Settings) -> Path:
    return held.log or default_folder()


def _pace(real_time: bool, fast: bool) -> PaceName:
    if real_time and fast:
        raise Trouble("Choose one of --real-time and --fast.")
    return "real time" if real_time else "fast" if fast else "shortened"


def _recorded(run: Run, recording: Path, model: Path | None, pace: PaceName, unit: Unit, quiet: bool) -> RecordingCab:
    """A cab that plays a sound file into the ears. Raises BadInput for the file, Missing for the model."""
    sound = Recording(recording)
    ears = build.recogniser(ready(model, run.console), unit)
    silent = quiet or pace == "fast"
    speaker = None if silent else Loudspeaker(run.warn, _HURRIED_WPM if pace == "shortened" else _CALM_WPM)
    spoken = speaker is not None and speaker.speaks
    return RecordingCab(
        sound,
        ears,
        Pace(pace, BREATH_MS if spoken else READING_MS),
        speaking_ms=speaking_ms,
        speaker=speaker,
        skipped=run.captions.skipped,
    )


def _typed(fast: bool) -> TypedCab:
    """A cab that listens to the keyboard."""
    lines = (line.rstrip("\r\n") for line in sys.stdin)
    return TypedCab(lines, jump=fast, speaking_ms=speaking_ms)
