"""`gladhand devices`: what microphones, loudspeakers and voices there are; with --test, whether they will do."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from assistant.cli.sound_test import Choice, try_out
from assistant.core.trouble import Missing
from assistant.mouth.voice import GET_ONE, Voice
from assistant.soundcard.devices import PLAIN_NAME, WITHOUT, Direction
from assistant.soundcard.portaudio import SoundCard


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command()(devices)


def devices(
    test: Annotated[
        bool, typer.Option("--test", help="Play a line and listen to you, and say what to change.")
    ] = False,
    microphone: Annotated[
        str | None, typer.Option(help="With --test: the microphone, by its name or a part of it.")
    ] = None,
    loudspeaker: Annotated[str | None, typer.Option(help="With --test: the loudspeaker, likewise.")] = None,
    voice: Annotated[str | None, typer.Option(help="With --test: the voice, by its name.")] = None,
    seconds: Annotated[float, typer.Option(min=1, max=60, help="With --test: how long to listen to you.")] = 5.0,
) -> None:
    """List the microphones, loudspeakers and voices of this machine."""
    console = Console(highlight=False)
    if test:
        try_out(console, Choice(microphone, loudspeaker, voice, seconds))
    else:
        show_devices(console)


def show_devices(console: Console) -> None:
    """Prints all devices and voices by name; where there are none, what to do about it."""
    try:
        found = SoundCard().devices()
    except Missing as trouble:
        console.print(str(trouble), markup=False)
        found = None
    directions: tuple[Direction, ...] = ("input", "output")
    for direction in directions if found is not None else ():
        kind = PLAIN_NAME[direction]
        rows = [d for d in found or () if d.serves(direction)]
        if not rows:
            console.print(f"No {kind} was found. Plug one in, or {WITHOUT[direction]}.", markup=False)
            continue
        table = _table(f"{kind.capitalize()}s")
        for device in rows:
            mark = "default" if device.is_default(direction) else ""
            table.add_row(escape(device.name), device.system, f"{device.rate} Hz", mark)
        console.print(table)
    _show_voices(console)


def _show_voices(console: Console) -> None:
    voice = Voice()
    voices = voice.voices()
    voice.close()
    english = [v for v in voices if v.language.startswith("en")] or list(voices)
    if not english:
        console.print(f"No voice was found. {GET_ONE}", markup=False)
        return
    table = _table("Voices")
    for each in english:
        table.add_row(escape(each.name), escape(each.id), each.language)
    console.print(table)
    if len(english) < len(voices):
        console.print(f"  and {len(voices) - len(english)} in other languages than that of the lines", markup=False)


def _table(title: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", show_header=False, box=None, pad_edge=True)
    table.add_column(overflow="fold")
    return table
