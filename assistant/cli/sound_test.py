"""The sound test: play a line, listen to the driver, and say in plain words what to change.

Law: it measures and advises, it sets nothing. Three stretches are compared by their levels: nobody speaks, the
assistant speaks, the driver speaks.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.live import Live
from rich.text import Text

from assistant.core.trouble import Missing
from assistant.ears.level import SILENCE_DB, Level, advise, allows_barge_in, leak_db, level_of, speech_db
from assistant.ears.microphone import Block, Microphone
from assistant.mouth.earcons import ATTENTION
from assistant.mouth.player import Played, Player
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Silent, Voice
from assistant.soundcard.hush import hushed
from assistant.soundcard.portaudio import SoundCard

Hear = Callable[[NDArray[np.int16]], str]

LINE = "This is a sound test of the loudspeaker."
ASK = 'Now speak as you will in the cab, for example "primary is at one hundred and twenty".'
QUIET_S = 1.0
WAIT_S = 1.0  # for blocks that are on their way
BAR = 40
BARGE_IN_ON = "You can speak while it speaks."
BARGE_IN_OFF = "Wait until it has spoken, or use a headset."
ADVICE = {
    "good": "The level of the microphone is good.",
    "low": "Level low. Come closer to the microphone, or turn it up in the system's sound settings.",
    "clipping": "Clipping: the loud parts are cut off. Move away from the microphone, or turn it down.",
    "no speech": "Nothing louder than the background was heard. Speak up, come closer, or choose another microphone.",
    "no sound": "No sound from this device. Check that it is switched on and not muted, or choose another microphone.",
}


@dataclass(frozen=True)
class Choice:
    """What to test with, None: the default. `seconds`: how long the driver is listened to."""

    microphone: str | None = None
    loudspeaker: str | None = None
    voice: str | None = None
    seconds: float = 5.0


def try_out(console: Console, choice: Choice, hear: Hear | None = None) -> None:
    """Runs the test and prints its results. `hear`: turns 16 kHz samples into the words that were heard in them.

    Raises Missing when the microphone or the loudspeaker can't be used, after the other one was tested.
    """
    card = SoundCard()
    voice = Voice(voice_id=choice.voice)
    microphone = Microphone(card, choice.microphone)
    player = Player(card, choice.loudspeaker)
    try:
        with hushed():
            if choice.voice is not None:
                voice.check_voice(choice.voice)
            troubles = [trouble for trouble in map(_trouble, (microphone.open, player.open)) if trouble is not None]
            quiet = _quiet(console, microphone) if microphone.is_open else []
            own = _own(console, microphone, player, _line(console, voice)) if player.is_open else []
            if microphone.is_open:
                spoken = _spoken(console, microphone, choice.seconds)
                levels = ([level_of(block.raw) for block in blocks] for blocks in (quiet, own, spoken))
                console.print("\n".join(findings(*levels)), markup=False)
                if hear is not None:
                    words = hear(np.concatenate([block.samples for block in spoken])) if spoken else ""
                    console.print(f"Heard: {words or 'no words'}", markup=False)
    finally:
        player.close()
        microphone.close()
        voice.close()
    for trouble in troubles[:-1]:
        console.print(str(trouble), markup=False)
    if troubles:
        raise troubles[-1]


def _trouble(attempt: Callable[[], None]) -> Missing | None:
    try:
        attempt()
    except Missing as trouble:
        return trouble
    return None


def _line(console: Console, voice: Voice) -> Sound:
    sound = voice.render(LINE)
    if isinstance(sound, Silent):
        console.print(f"{sound.reason} A tone is played instead.", markup=False)
        return ATTENTION
    return sound


def _quiet(console: Console, microphone: Microphone) -> list[Block]:
    console.print("Please be quiet for a moment.")
    begin = time.monotonic()
    return list(_blocks(microphone, begin, begin + QUIET_S))


def _own(console: Console, microphone: Microphone, player: Player, line: Sound) -> list[Block]:
    """What the microphone picked up while the line was at the loudspeaker; nothing when it is not open."""
    console.print(f'The loudspeaker says: "{LINE}"', markup=False)
    told: queue.SimpleQueue[Played] = queue.SimpleQueue()
    player.play(line, told.put)
    played = told.get()
    if played.cut or played.began is None:
        console.print("The loudspeaker went away while it played. Check how it is connected.")
        return []
    console.print("If you did not hear it, turn the loudspeaker up or choose another one.")
    return list(_blocks(microphone, played.began, played.ended)) if microphone.is_open else []


def _spoken(console: Console, microphone: Microphone, seconds: float) -> list[Block]:
    console.print(f"{ASK} You have {seconds:g} seconds.", markup=False)
    begin = time.monotonic()
    blocks = []
    with Live(console=console, transient=True, auto_refresh=False) as live:
        for block in _blocks(microphone, begin, begin + seconds):
            blocks.append(block)
            if console.is_terminal:
                live.update(_meter(level_of(block.raw)), refresh=True)
    return blocks


def _blocks(microphone: Microphone, begin: float, end: float) -> Iterator[Block]:
    """What was captured between two moments of time.monotonic(); fewer where the microphone falls silent for good."""
    while True:
        try:
            block = microphone.blocks.get(timeout=WAIT_S)
        except queue.Empty:
            return
        if block.captured_at >= end:
            return
        if block.captured_at >= begin:
            yield block


def _meter(level: Level) -> Text:
    filled = round(BAR * (1 - level.rms_db / SILENCE_DB))
    return Text(f"level [{'=' * filled:<{BAR}}] {level.rms_db:4.0f} dB{'  clipping' if level.clipped else ''}")


def findings(quiet: Sequence[Level], own: Sequence[Level], spoken: Sequence[Level]) -> list[str]:
    """What the levels of the three stretches mean, in sentences; `own` is empty when nothing was played."""
    advice = advise(quiet, spoken)
    told = [
        f"Background {speech_db(quiet):.0f} dB, your voice {speech_db(spoken):.0f} dB of full scale.",
        ADVICE[advice],
    ]
    leak = leak_db(quiet, own, spoken)
    if not own:
        return told
    if leak is None:
        told.append(f"None of the assistant's own voice comes back into the microphone. {BARGE_IN_ON}")
    elif advice in ("no sound", "no speech"):
        told.append("The assistant's own voice comes back into the microphone; how much can't be told without yours.")
    else:
        where = f"{-leak:.0f} dB below" if leak < 0 else f"{leak:.0f} dB above"
        verdict = BARGE_IN_ON if allows_barge_in(leak) else BARGE_IN_OFF
        told.append(f"The assistant's own voice comes back {where} yours. {verdict}")
    return told
