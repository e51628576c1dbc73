"""`gladhand recite`: a trainee talks through the check and is marked on what was said."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.console import Console

from assistant import assets
from assistant.cab.pace import BREATH_MS, READING_MS, Pace
from assistant.cab.recording import RecordingCab
from assistant.cab.typed import TypedCab
from assistant.cli import build
from assistant.cli.asked import Absent, Json
from assistant.cli.check import BuildDate, Class, Driver, LogPlace, Quiet, Standard, UnitName
from assistant.cli.live import cab_for, closing_in_order
from assistant.cli.marks import show, to_json
from assistant.cli.model import ModelPath, ready
from assistant.cli.settings import Settings, effective
from assistant.core.events import Begun, Setup
from assistant.core.trouble import Trouble
from assistant.ears.recording import Recording
from assistant.log import SessionLog, default_folder
from assistant.mouth.console import Captions, speaking_ms
from assistant.mouth.loudspeaker import Loudspeaker
from assistant.review.recital import Recital, State, card, debrief, mark
from assistant.session import Cab, Session
from assistant.soundcard.hush import hushed

_WPM = 170


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command()(recite)


def recite(
    text: Annotated[Path | None, typer.Argument(help="A text file with the talk, one utterance a line.")] = None,
    recording: Annotated[Path | None, typer.Option("--recording", help="A sound file of the talk.")] = None,
    typed: Annotated[bool, typer.Option("--typed", help="Talk by the keyboard.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="As in an examination: no help at all.")] = False,
    coach: Annotated[bool, typer.Option("--coach", help="Help after a pause.")] = False,
    show_card: Annotated[bool, typer.Option("--card", help="Print and speak a model talk-through.")] = False,
    standard: Standard = None,
    vehicle: Class = None,
    built: BuildDate = None,
    absent: Absent = None,
    unit: UnitName = None,
    driver: Driver = None,
    log: LogPlace = None,
    model: ModelPath = None,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Talk through the whole check unprompted, and be marked on what you said.

    Name each test, say its limit, what you do, what you read and whether it passes. Say "that is all" at the end.
    """
    if sum((text is not None, recording is not None, typed, show_card)) > 1:
        raise Trouble("Choose one of a text file, --recording FILE, --typed and --card, or none for the microphone.")
    how = _help(strict, coach)
    given = {name: value for name, value in locals().items() if name in Settings.model_fields}
    held = effective(given).settings
    setup = held.setup().model_copy(update={"recital": how})
    console = Console(highlight=False, stderr=as_json)
    if show_card:
        _card(build.recital_for(setup), console, quiet)
        return
    talk = _Talk(setup, held.log or default_folder(), console)
    if recording is not None:
        state = talk.run(_recorded(recording, model, console, quiet), "recording", recording)
    elif typed or text is not None:
        state = talk.run(_lines(text), "typed", text)
    else:
        state = talk.live(held, model, quiet)
    talk.tell(state, as_json)
    raise typer.Exit(0 if state.points == state.total else 1)


def _help(strict: bool, coach: bool) -> Literal["strict", "asked", "coach"]:
    if strict and coach:
        raise Trouble("Choose one of --strict and --coach.")
    return "strict" if strict else "coach" if coach else "asked"


class _Talk:
    """One recital, from its opening words to the marks on the screen."""

    def __init__(self, setup: Setup, place: Path, console: Console) -> None:
        self._setup, self._place, self._console = setup, place, console
        self._prompts = assets.prompts()
        self._flow = build.recital_for(setup)
        self._captions = Captions(console, self._prompts, str, all_counts=True)

    def run(
        self,
        cab: Cab,
        mode: Literal["live", "recording", "typed"],
        source: Path | None = None,
        starting: Callable[[Path], None] | None = None,
    ) -> State:
        """The state after the debrief. `starting`: told where the log is, before the first words."""
        header = build.header(self._setup, mode, source)
        session = Session(self._flow, self._prompts, SessionLog.create(self._place, header), cab, self._captions.show)
        with hushed():
            if starting is not None:
                starting(session.log.path)
            state = session.begin(Begun(setup=self._setup))
        self._log = session.log
        return state

    def live(self, held: Settings, model: Path | None, quiet: bool) -> State:
        """With microphone and loudspeaker. Raises Missing without a microphone or a model."""
        folder = ready(model, self._console)
        unit = self._setup.unit
        cab = cab_for(held, lambda: build.recogniser(folder, unit, free=True), self._captions.note, quiet=quiet)
        try:
            with hushed():
                cab.open("`gladhand recite --typed`, or `gladhand recite --recording FILE`")
            with closing_in_order(cab):
                state = self.run(cab, "live", None, lambda path: cab.start(0, path if held.keep_sound else None))
                cab.speak_out()
        finally:
            cab.close()
        return state

    def tell(self, state: State, as_json: bool) -> None:
        """All marks, the points and where the log is."""
        told = debrief(self._flow.scheme, mark(self._flow.scheme, state.heard))
        if as_json:
            typer.echo(to_json(self._flow.scheme, told))
        else:
            show(self._console, self._prompts, self._flow.scheme, told)
        path = self._log.path
        self._console.print(
            f"\nSession log: {path}\nVerify it:   gladhand replay {path} --verify", soft_wrap=True, markup=False
        )


def _recorded(recording: Path, model: Path | None, console: Console, quiet: bool) -> RecordingCab:
    """A cab that plays a sound file into the ears. Raises BadInput for the file, Missing for the model."""
    sound = Recording(recording)
    ears = build.recogniser(ready(model, console), free=True)
    captions = Captions(console, assets.prompts(), str)
    speaker = None if quiet else Loudspeaker(captions.note, _WPM)
    spoken = speaker is not None and speaker.speaks
    pace = Pace("shortened" if spoken else "fast", BREATH_MS if spoken else READING_MS)
    return RecordingCab(sound, ears, pace, speaking_ms=speaking_ms, speaker=speaker, skipped=lambda _: None)


def _lines(text: Path | None) -> TypedCab:
    """A cab that listens to the keyboard, or reads a file. Raises Trouble for a file that is no text."""
    if text is None:
        jump = not sys.stdin.isatty()
        return TypedCab((line.rstrip("\r\n") for line in sys.stdin), jump=jump, speaking_ms=speaking_ms)
    try:
        lines = text.read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError) as error:
        raise Trouble(f"{text} can't be read as a text ({error}). Give a text file, one utterance a line.") from error
    return TypedCab(iter([line for line in lines if line.strip()]), jump=True, speaking_ms=speaking_ms)


def _card(flow: Recital, console: Console, quiet: bool) -> None:
    """Print the model talk-through and speak it, where there is a voice."""
    prompts = assets.prompts()
    scheme = flow.scheme
    speaker = None if quiet else Loudspeaker(lambda why: console.print(why, markup=False), _WPM)
    console.print(f"{scheme.standard.title}, {scheme.setup.vehicle.vehicle_class}. {scheme.standard.meaning}\n")
    for lines in card(scheme).values():
        console.print(" ".join(map(prompts.shown, lines)) + "\n", markup=False)
        if speaker is not None and speaker.speaks:
            speaker.speak(" ".join(map(prompts.spoken, lines)))
            while speaker.speaking:
                time.sleep(0.05)
    if speaker is not None:
        speaker.close()
