"""The loudspeaker for a check that follows a recording: speaks a line, and knows when it has been heard.

Law: a voice or a device that is missing is told of once, with what to do, and the captions go on.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from assistant.core.trouble import Trouble
from assistant.mouth.player import Player
from assistant.mouth.sound import Sound, decoded
from assistant.mouth.voice import Silent, Voice
from assistant.soundcard.portaudio import SoundCard

_PATIENCE_S = 5.0  # a device that does not tell the end of a sound is not waited for longer


class Loudspeaker:
    """`told` gets the sentence that says what is missing. `rate_wpm`: words a minute."""

    def __init__(self, told: Callable[[str], None], rate_wpm: int) -> None:
        self._told = told
        self._over = threading.Event()
        self._until = 0.0
        self._voice: Voice | None = Voice(rate_wpm)
        self._player: Player | None = Player(SoundCard())
        try:
            self._player.open()
        except Trouble as trouble:
            self._give_up(str(trouble))

    @property
    def speaks(self) -> bool:
        """Whether lines are heard at all."""
        return self._player is not None and self._voice is not None

    @property
    def speaking(self) -> bool:
        """Whether a line is being heard at this moment."""
        return time.monotonic() < self._until and not self._over.is_set()

    def speak(self, text: str) -> None:
        """Begin to say `text`; return at once."""
        if self._player is None or self._voice is None:
            return
        sound = self._voice.render(text)
        if isinstance(sound, Silent):
            self._told(sound.reason)
            self._end_voice()
        else:
            self._play(sound)

    def play_file(self, data: bytes) -> None:
        """Begin to play the bytes of a sound file; return at once. Raises BadInput for other bytes."""
        self._play(decoded(data))

    def _play(self, sound: Sound) -> None:
        if self._player is None:
            return
        over = self._over = threading.Event()
        self._until = time.monotonic() + sound.seconds + _PATIENCE_S
        self._player.play(sound, then=lambda _: over.set())

    def _give_up(self, why: str) -> None:
        self._told(why)
        self.close()

    def close(self) -> None:
        """Give back the device and the voice; nothing is spoken any more."""
        if self._player is not None:
            self._player.close()
        self._player = None
        self._end_voice()

    def _end_voice(self) -> None:
        """Without a voice, sounds can still be played."""
        if self._voice is not None:
            self._voice.close()
        self._voice = None
