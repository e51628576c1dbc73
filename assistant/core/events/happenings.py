"""Events: past facts, as they came."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from assistant.core.events.subjects import Needle, Record, Setup


class Begun(Record):
    kind: Literal["begun"] = "begun"
    setup: Setup


class Word(Record):
    """`unlike`: how much less likely the word is by the second opinion than letters in no language, in nats, in its
    part of the sound; None where there was none."""

    text: str
    start_ms: int
    end_ms: int
    unlike: float | None = None


class Rival(Record):
    """Another path through the strict grammar, or another sentence of its language. `behind`: how much less likely than
    the best one, in nats (< 0: it is the likelier one, and only the second opinion has put the best one first);
    `behind_second`: the same by the second opinion, None where there was none."""

    text: str
    behind: float
    behind_second: float | None = None


class Heard(Record):
    """What the recogniser delivered for one utterance: evidence, not yet a meaning.

    `text` is the best path of the strict grammar, or the sentence of its language that both ears together take for
    likelier ("" = talk outside the grammar or nothing); `open_text` the free decode of the same sound, when there was
    one, `open_words` its words with their times; levels in dB (full scale, signal to noise), None when typed;
    `treated_snr_db`: signal to noise after the front end. `unlike`: how much less likely `text` is by the second
    opinion than letters in no language, in nats, None where there was none. `clipped`: the share of the sound that was
    too loud for the microphone. `gap`: samples were lost inside. `goes_on`: it begins with the utterance before, which
    had been taken for whole ("eighty ... four"). `sound`: SHA-256 of the kept utterance.
    """

    kind: Literal["heard"] = "heard"
    text: str
    start_ms: int
    end_ms: int
    words: tuple[Word, ...] = ()
    rivals: tuple[Rival, ...] = ()
    open_text: str | None = None
    open_words: tuple[Word, ...] = ()
    level_db: float | None = None
    snr_db: float | None = None
    treated_snr_db: float | None = None
    unlike: float | None = None
    clipped: float = 0.0
    gap: bool = False
    goes_on: bool = False
    sound: str | None = None
    by: Literal["voice", "typed"] = "voice"

    def said(self, *, freely: bool = False) -> str:
        """The words, for showing; `freely`: of talk that no grammar holds, those of the free decode."""
        ways = (self.open_text, self.text) if freely else (self.text, self.open_text)
        return next(filter(None, ways), "(no words)")


class Said(Record):
    """A line has left the loudspeaker (or the screen). `text`: the exact words. `cut`: it was broken off."""

    kind: Literal["said"] = "said"
    text: str
    cut: bool = False


class Due(Record):
    """A timer ran out."""

    kind: Literal["due"] = "due"
    timer: str


class Device(Record):
    """A device failed or came back. The clock is back after the machine slept, or was set."""

    kind: Literal["device"] = "device"
    device: Literal["microphone", "loudspeaker", "voice", "log", "clock"]
    state: Literal["lost", "back"]
    detail: str = ""


class Resumed(Record):
    """The check goes on in a new process after an interruption."""

    kind: Literal["resumed"] = "resumed"


class Ended(Record):
    """No more events will come: the recording is over, the driver closed the input, or the process was told to stop."""

    kind: Literal["ended"] = "ended"
    why: Literal["recording over", "input closed", "told to stop"]


class Gauges(Record):
    """Where the needles of a simulated gauge stood, psi: from `from_ms` on, one sample each `step_ms`. Nobody in the
    check knows it and nothing follows from it; it is there for who looks at the check afterwards."""

    kind: Literal["gauges"] = "gauges"
    from_ms: int
    step_ms: int = Field(gt=0)
    psi: dict[Needle, tuple[float, ...]]


Event = Annotated[Begun | Heard | Said | Due | Device | Resumed | Ended | Gauges, Field(discriminator="kind")]
