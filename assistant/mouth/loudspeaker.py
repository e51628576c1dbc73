"""The loudspeaker for a check that follows a recording: speak a line, wait until it was heard.

Law: a voice or a device that is missing is told of once, with what to do, and the captions go on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from assistant.core.trouble import Trouble
from assistant.mouth.player import Player
from assistant.mouth.voice import Silent, Voice
from assistant.soundcard.portaudio import SoundCard

_LONGEST_S = 60.0


class Loudspeaker:
    """`told` gets the sentence that says what is missing. `rate_wpm`: words a minute."""

    def __init__(self, told: Callable[[str], None], rate_wpm: int = 190) -> None:
        self._told = told
        self._voice = Voice(rate_wpm)
        self._player: Player | None = Player(SoundCard())
        try:
            self._player.open()
        except Trouble as trouble:
            self._give_up(str(trouble))

    def speak(self, text: str) -> None:
        """Say `text` and return when its last word has left; at once when it can't be said."""
        if self._player is None:
            return
        sound = self._voice.render(text)
        if isinstance(sound, Silent):
            self._give_up(sound.reason)
            return
        over = threading.Event()
        self._player.play(sound, then=lambda _: over.set())
        over.wait(min(_LONGEST_S, sound.seconds + 5))

    def _give_up(self, why: str) -> None:
        self._told(why)
        self.close()

    def close(self) -> None:
        """Give back the device and the voice; nothing is spoken any more."""
        if self._player is not None:
            self._player.close()
            self._voice.close()
        self._player = None
