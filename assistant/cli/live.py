"""The live check: devices, settings and the session brought together, hands free from the first word to the last."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType

from assistant import standards
from assistant.cab import choosing
from assistant.cab.choosing import Choice
from assistant.cab.clock import Clocks
from assistant.cab.live import Devices, LiveCab
from assistant.cli import build
from assistant.cli.model import ready
from assistant.cli.running import Run, Start
from assistant.cli.settings import Settings
from assistant.core.dialogue import State
from assistant.core.events import Device, Ended, Event, Heard, Line, Say, Setup, Unit
from assistant.core.hearing import understand
from assistant.core.prompts import Prompts
from assistant.core.trouble import Trouble
from assistant.ears.recogniser import Recogniser
from assistant.log import default_folder, read
from assistant.mouth.glance import Glance, fits
from assistant.session import boot_clock_ns
from assistant.soundcard.hush import hushed

_PATIENCE_MS = 20_000
_WAYS_OUT = "`gladhand check --typed`, or `gladhand check --recording FILE`"


def check(run: Run, held: Settings, model: Path | None, resume: Path | None, *, quiet: bool) -> State:
    """A whole check in a real cab. Raises Missing without a microphone or a model."""
    setup = read(resume).header.setup if resume else held.setup()
    folder = ready(model, run.console)
    cab = cab_for(held, lambda: ears(folder, setup.unit), run.warn, quiet=quiet)
    glance = Glance(run.console, run.prompts, build.language(setup.unit).written, cab.clock.now_ms, lambda: cab.hearing)

    def starting(start: Start) -> None:
        glance.begin((test.id for test in build.dialogue_for(start.setup).plan.tests), start.verdicts)
        cab.start(start.at_ms, start.log if held.keep_sound else None)

    try:
        with hushed(), closing_in_order(cab), ExitStack() as stack:
            with ThreadPoolExecutor(1) as aside:  # sound systems take their time; the standards are read meanwhile
                opening = aside.submit(cab.open, _WAYS_OUT)
                cab.prepare(ahead(run.prompts, setup))
                opening.result()
            stack.enter_context(_shown(run, glance, held.captions))
            if resume is None:
                setup = _chosen(run, held, setup, cab)
            place = held.log or default_folder()
            state = run.resume(resume, cab, starting) if resume else run.begin(setup, cab, place, starting=starting)
            cab.speak_out()
    finally:
        cab.close()
    return state


def cab_for(held: Settings, ears: Callable[[], Recogniser], told: Callable[[str], None], *, quiet: bool) -> LiveCab:
    """The cab with the devices of the settings. `ears`: makes the recogniser; `told`: gets sentences for the screen."""
    devices = Devices(
        held.microphone, held.loudspeaker, held.voice, held.rate, held.loudness, tones=held.tones, quiet=quiet
    )
    return LiveCab(devices, ears, Clocks(time.monotonic, lambda: boot_clock_ns() / 1e9), told)


def ears(folder: Path, unit: Unit, *, free: bool = False, orders: bool = False) -> Recogniser:
    """The recogniser, as `build.recogniser` makes it, and the meaning of words made ready, so that the first answer
    comes as soon as later ones."""
    recogniser = build.recogniser(folder, unit, free=free, orders=orders)
    understand(Heard(text="primary one twenty secondary one twenty", start_ms=0, end_ms=0), build.language(unit), unit)
    return recogniser


def _chosen(run: Run, held: Settings, setup: Setup, cab: LiveCab) -> Setup:
    """The setup after what was not told has been asked by voice."""
    choices = [] if held.vehicle else [choosing.vehicle()]
    if held.standard is None and len(held.standards) > 1:
        choices.append(choosing.standard({name: standards.load(name).title for name in held.standards}))
    return choosing.settled(setup, [_choose(run, cab, choice, setup.unit) for choice in choices])


def _choose(run: Run, cab: LiveCab, choice: Choice, unit: Unit) -> Choice:
    """Put one question until it is answered. Raises Trouble when the driver, or somebody else, says stop."""
    lines: tuple[Line, ...] = (choice.question,)
    event: Event | None = None
    while choice.chosen is None:
        now = cab.clock.now_ms()
        run.show(now, event, (Say(lines=lines),) if lines else ())
        if lines:
            cab.say(" ".join(map(run.prompts.spoken, lines)), now)
        lines = ()
        arrived = cab.next(now + _PATIENCE_MS, holding=False)
        event = arrived[1] if arrived else None
        if event is None or (isinstance(event, Device) and event.state == "back"):
            lines = (choice.question,)
        elif isinstance(event, Heard):
            understood = understand(event, build.language(unit), unit)
            if understood.command == "stop":
                raise Trouble("Stopped before the check began. Nothing was recorded.")
            choice, lines = choice.hear(understood)
        elif isinstance(event, Ended):
            raise Trouble("Stopped before the check began. Nothing was recorded.")
    return choice


@contextmanager
def _shown(run: Run, glance: Glance, captions: bool) -> Iterator[None]:
    """The screen for a glance, where there is a terminal for it; its verdicts stay as captions behind it."""
    if captions or not fits(run.console):
        yield
        return
    run.screen = glance
    glance.open()
    try:
        yield
    finally:
        glance.close()
        run.screen = run.captions
        for verdict in glance.verdicts:
            run.captions.verdict(verdict)


@contextmanager
def closing_in_order(cab: LiveCab) -> Iterator[None]:
    """The first request to stop closes the check in order, a second one breaks its last words off: raises Trouble."""
    asked = False

    def handler(number: int, frame: FrameType | None) -> None:
        del number, frame
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        cab.post(Ended(why="told to stop"))

    before = {number: signal.signal(number, handler) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    except KeyboardInterrupt as again:
        raise Trouble("Stopped. The session log is kept.") from again
    finally:
        for number, kept in before.items():
            signal.signal(number, kept)


def ahead(prompts: Prompts, setup: Setup) -> list[str]:
    """The sentences of this check that never change, in about the order in which they may be said."""
    plan = build.dialogue_for(setup).plan
    asked = [step.prompt for step in plan.gates.values()]
    asked += [step.prompt for test in plan.tests for step in test.steps]
    texts = []
    for prompt in (*asked, *_ANSWERS):
        try:
            texts.append(prompts.spoken(Line(prompt=prompt)))
        except Trouble:  # it has values, so it can't be known yet
            continue
    return list(dict.fromkeys(texts))


_ANSWERS = (
    "again.plain",
    "again.doubtful",
    "again.doubtful-number",
    "again.unfinished",
    "again.not-an-answer",
    "again.digits",
    "again.which-needle",
    "readback.started",
    "flow.stopped",
    "hold.broken",
    "device.microphone-lost",
    "device.microphone-back",
)
