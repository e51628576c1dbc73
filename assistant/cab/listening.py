"""The ears of a live check, on a thread of their own: blocks of the microphone in, what was heard out.

Law: the times of what was heard are those of its samples, moved to the clock of the check by the time stamp of the
block they came in, so that neither the decoder's speed nor a busy machine can shift them.
"""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Callable

import numpy as np

from assistant.cab.clock import CheckClock
from assistant.cab.interrupting import PIECE_S, Interrupting
from assistant.cab.keeping import MARGIN, RATE_HZ, Recent, SoundFolder
from assistant.core.events import Heard, Word
from assistant.core.trouble import Trouble
from assistant.ears.level import level_of
from assistant.ears.microphone import Block, Microphone
from assistant.ears.recogniser import Recogniser

_WAIT_S = 0.2
PIECE = round(PIECE_S * RATE_HZ)
HELD_BLOCKS = 6  # 0.3 s: from the beginning of a word to the moment at which it is known to be loud
GO_ON = "go on with `gladhand check --typed --resume` and its name."


class Ears:
    """Listens to `microphone` until `close`. `make`: makes the recogniser; it takes a second and is called on the
    thread, so that the first words can be spoken meanwhile. Called on the thread: `heard` with each utterance, `failed`
    with the trouble that ends the ears, `interrupted` when the driver has begun to speak over the assistant.
    """

    def __init__(
        self,
        microphone: Microphone,
        make: Callable[[], Recogniser],
        clock: CheckClock,
        *,
        heard: Callable[[Heard], None],
        failed: Callable[[Trouble], None],
        interrupted: Callable[[], None],
    ) -> None:
        self.folder: SoundFolder | None = None
        self.partial = ""
        self._microphone = microphone
        self._make = make
        self._clock = clock
        self._heard = heard
        self._failed = failed
        self._interrupted = interrupted
        self._held: deque[Block] = deque()  # while the assistant speaks: what may turn out to be the driver's
        self._raw = False
        self.interrupting = Interrupting()
        self._recent = Recent()
        self._offset = 0.0  # moment of sample 0, by the latest block
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._work, name="ears", daemon=True)

    def open(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._over.set()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _work(self) -> None:
        try:
            self._listen(self._make())
        except Trouble as trouble:
            self._failed(trouble)
        except Exception as fault:  # a thread that died unseen would leave the driver talking to nobody
            self._failed(Trouble(f"The recogniser stopped ({type(fault).__name__}: {fault}). The log is kept; {GO_ON}"))

    def _listen(self, recogniser: Recogniser) -> None:
        recogniser.joining = lambda: self.interrupting.possible
        unfinished = False
        while not self._over.is_set():
            try:
                block = self._microphone.blocks.get(timeout=_WAIT_S)
            except queue.Empty:
                if unfinished and not self._microphone.is_open:  # it was lost: what was said until then counts
                    self._tell(recogniser.finish())
                    unfinished = False
                continue
            unfinished = True
            self._take(recogniser, block)

    def _take(self, recogniser: Recogniser, block: Block) -> None:
        """Blocks captured while the assistant speaks wait for 0.3 s, in case the driver has begun to speak over it."""
        muted = self._microphone.muted
        pieces = np.array_split(block.raw, max(1, round(len(block.raw) / PIECE)))
        told = [self.interrupting.take(level_of(piece), muted) for piece in pieces]  # of all, whatever the first say
        if any(told):
            self._raw = True
            self._interrupted()
        self._held.append(block)
        while len(self._held) > (HELD_BLOCKS if muted and not self._raw else 0):
            self._feed(recogniser, self._held.popleft())

    def _feed(self, recogniser: Recogniser, block: Block) -> None:
        samples = block.raw if self._raw else block.samples
        if block.samples is block.raw:  # the ears are open anyway
            self._raw = False
        self._recent.add(block.first, samples)
        self._offset = block.captured_at - block.first / RATE_HZ
        heard = recogniser.feed(samples, first=block.first, gap=block.gap)
        self.partial = "" if heard else recogniser.partial
        self._tell(heard)

    def _tell(self, heard: list[Heard]) -> None:
        for utterance in heard:
            if utterance.level_db is not None and utterance.text:
                self.interrupting.driver_db = utterance.level_db
            self._heard(self._timed(utterance))

    def _timed(self, heard: Heard) -> Heard:
        """The same in ms of the check, with its sound kept."""
        sha = None
        if self.folder is not None:
            span = (heard.start_ms * RATE_HZ // 1000 - MARGIN, heard.end_ms * RATE_HZ // 1000 + MARGIN)
            sha = self.folder.keep(self._recent.between(*span), self._moved(heard.start_ms))
        words, free = map(self._moved_words, (heard.words, heard.open_words))
        moved: dict[str, object] = {"start_ms": self._moved(heard.start_ms), "end_ms": self._moved(heard.end_ms)}
        moved |= {"words": words, "open_words": free}
        return heard.model_copy(update={**moved, "sound": sha})

    def _moved_words(self, words: tuple[Word, ...]) -> tuple[Word, ...]:
        return tuple(
            word.model_copy(update={"start_ms": self._moved(word.start_ms), "end_ms": self._moved(word.end_ms)})
            for word in words
        )

    def _moved(self, sound_ms: int) -> int:
        return self._clock.ms(self._offset + sound_ms / 1000)
