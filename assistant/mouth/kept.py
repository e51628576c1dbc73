"""Lines that were rendered once and may be said again."""

from __future__ import annotations

import threading
from collections import OrderedDict

from assistant.mouth.sound import Sound


class KeptLines:
    """Sounds by their text, up to `most_bytes` of samples; the longest unused go first. Any thread may call."""

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        self._sounds: OrderedDict[str, Sound] = OrderedDict()
        self._lock = threading.Lock()  # held for microseconds

    def get(self, text: str) -> Sound | None:
        with self._lock:
            sound = self._sounds.get(text)
            if sound is not None:
                self._sounds.move_to_end(text)
            return sound

    def put(self, text: str, sound: Sound) -> None:
        with self._lock:
            before = self._sounds.pop(text, None)
            self._bytes += sound.samples.nbytes - (before.samples.nbytes if before else 0)
            self._sounds[text] = sound
            while self._bytes > self._most_bytes:
                self._bytes -= self._sounds.popitem(last=False)[1].samples.nbytes
