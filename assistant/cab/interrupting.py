"""When the driver speaks while the assistant does: told by level alone, where the own voice comes back faintly enough.

Law: no word is recognised in the mixture of two voices; what is loud enough to be the driver cuts the assistant off,
and only then is listened to. Whether that may be done is measured in each check: the own voice has to be 15 dB below
the driver's in the microphone. A false alarm makes it harder to interrupt, so that noise can't go on doing it.
"""

from __future__ import annotations

from collections import deque

from assistant.ears.level import SILENCE_DB, Level, allows_barge_in, leak_db

MARGIN_DB = 6.0  # above the loudest moment of the own voice; measured on synthetic rooms: no false alarm
BELOW_DRIVER_DB = 15.0  # what is softer than that is not the driver
PIECE_S = 0.025
PIECES = 3  # so many loud ones in a row: a knock is shorter
ONSET_PIECES = 12  # the driver's first sound may be too weak to count: what came just before is not the own voice
_TURNS = 5
_QUIET_PIECES = 400
_MOST_PIECES = 800


class Interrupting:
    """To be told the level of every piece of 25 ms, on one thread; `driver_db`: how loud the driver's words were."""

    def __init__(self) -> None:
        self.driver_db: float | None = None
        self._quiet: deque[Level] = deque(maxlen=_QUIET_PIECES)
        self._turns: deque[list[Level]] = deque(maxlen=_TURNS)
        self._turn: list[Level] = []
        self._loudest_db = 0.0  # of the own voice; before its first turn nothing is louder
        self._margin_db = MARGIN_DB
        self._loud = 0
        self._done = False

    @property
    def possible(self) -> bool:
        """Whether the driver can be told from the assistant at all."""
        if self.driver_db is None or not self._turns:
            return False
        own = [level for turn in self._turns for level in turn]
        spoken = Level(self.driver_db, self.driver_db, False)
        quiet = sorted(self._quiet, key=lambda level: level.rms_db)[: len(self._quiet) // 2]  # the driver speaks, too
        return allows_barge_in(leak_db(quiet, own, (spoken,)))

    def take(self, level: Level, speaking: bool) -> bool:
        """The next piece; True once in a turn, when the driver has begun to speak over it."""
        if not speaking:
            self._end_turn()
            self._quiet.append(level)
            return False
        if self._done:
            return False
        if level.rms_db > self._threshold():
            self._loud += 1
        else:
            self._loud = 0
            if len(self._turn) < _MOST_PIECES:
                self._turn.append(level)
        self._done = self._loud >= PIECES and self.possible
        if self._done:
            del self._turn[-ONSET_PIECES:]
        return self._done

    def false_alarm(self) -> None:
        """Nothing was said after all."""
        self._margin_db += MARGIN_DB

    def _end_turn(self) -> None:
        if self._turn:
            self._turns.append(self._turn)
            self._loudest_db = max(level.rms_db for turn in self._turns for level in turn)
        self._turn, self._loud, self._done = [], 0, False

    def _threshold(self) -> float:
        driver = SILENCE_DB if self.driver_db is None else self.driver_db - BELOW_DRIVER_DB
        return max(self._loudest_db + self._margin_db, driver)
