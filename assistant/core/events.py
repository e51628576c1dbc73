"""The vocabulary: every record that can stand in a session log.

Law: events are past facts, effects are intentions. Records are frozen, refuse unknown fields, NaN and infinity,
and only ever grow by optional fields, so that an old log folds for ever.
Times are whole milliseconds of the check (0 = the check began), unless a name says otherwise.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

Unit = Literal["psi", "kPa"]
Needle = Literal["primary", "secondary"]
VehicleClass = Literal["truck", "bus", "tractor", "combination", "doubles", "triples"]
TestId = Literal[
    "build-up",
    "governor-cut-out",
    "governor-cut-in",
    "static-leakage",
    "applied-leakage",
    "low-air-warning",
    "trailer-supply-pop-out",
    "parking-valve-pop-out",
    "parking-brake",
    "trailer-brake",
    "hand-valve",
    "service-brake",
]
Outcome = Literal["pass", "fail", "not judged"]


class Record(BaseModel):
    """What every record has in common: it can't be changed, and it holds nothing that was not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)


# --- what the words meant -------------------------------------------------------------------------------------------


class Reading(Record):
    """A gauge value as spoken. `needle` None: the driver did not say which one. `at_ms`: when the number was spoken.
    `within`: half the width of what was spoken as a range ("between 85 and 90": 87.5 within 2.5), None for a number."""

    value: float
    unit: Unit
    needle: Needle | None = None
    at_ms: int | None = None
    within: float | None = None


Value = str | int | float | Reading | tuple[Reading, ...] | None


class Line(Record):
    """One sentence to say: a prompt id of prompts/ and the values that go into it."""

    prompt: str
    values: dict[str, Value] = {}


class Observation(Record):
    """All that a verdict is computed from.

    `readings` by slot: "at" (one moment), "first" and "last" (a hold), "from" and "to" (a rise).
    `seconds`: the measured length of the hold or rise. `answers`: e.g. light -> on | off, held -> held | moved.
    `not_done`: why the test was not carried out, when it was not.
    `within`: by slot, half the width of what was spoken as a range, in the unit of the readings ("between 85 and 90":
    87.5 within 2.5).
    """

    test: TestId
    readings: dict[str, tuple[Reading, ...]] = {}
    seconds: float | None = None
    answers: dict[str, str] = {}
    not_done: str | None = None
    within: dict[str, float] = {}


class Verdict(Record):
    """The answer to one test. `limit` and `source` are text as the standard prints them; `margin` is in `unit`,
    positive on the safe side, None where nothing was compared. `reason` is a sentence of prompts/. `needle`: the one
    that decided. `notes`: what else has to be known with it, never what decided."""

    test: TestId
    outcome: Outcome
    limit: str
    margin: float | None
    unit: str | None
    reason: Line
    source: str
    consequence: str | None = None
    needle: Needle | None = None
    notes: tuple[Line, ...] = ()


# --- events: past facts ---------------------------------------------------------------------------------------------


class MakerFigure(Record):
    """What the maker of this vehicle prints for one test; it takes the place of a handbook's figure, not of a law's.

    `unit` "s" is for the time of a rise. `where`: the document and page, named in the verdict.
    """

    test: TestId
    at_least: float | None = None
    at_most: float | None = None
    unit: Literal["psi", "kPa", "s"] = "psi"
    where: str


class Vehicle(Record):
    """What is checked. `needles`: how many the gauge has. `gauge_mark`: the pressure between two marks of the gauge,
    in the unit of the readings, None = not known. `absent`: parts that this vehicle does not have.
    `tank_volume`, `chamber_volume`: of the power unit's supply and service reservoirs together, and of its service
    brake chambers together, both in the same unit of volume."""

    vehicle_class: VehicleClass = "combination"
    built: Literal["before March 1975", "March 1975 to February 1997", "since March 1997"] = "since March 1997"
    needles: Literal[1, 2] = 2
    gauge_mark: float | None = None
    absent: tuple[str, ...] = ()
    maker: tuple[MakerFigure, ...] = ()
    tank_volume: float | None = Field(default=None, gt=0)
    chamber_volume: float | None = Field(default=None, gt=0)


class Setup(Record):
    """What was chosen before the check. `unit`: how a number without a unit is taken. `recital`: a trainee talks
    through the check and is marked; strict: no help, asked: when asked for, coach: after a pause as well."""

    standard: str
    vehicle: Vehicle = Vehicle()
    unit: Unit = "psi"
    driver: str | None = None
    fleet_number: str | None = None
    route: str | None = None
    recital: Literal["strict", "asked", "coach"] | None = None


class Begun(Record):
    kind: Literal["begun"] = "begun"
    setup: Setup


class Word(Record):
    text: str
    start_ms: int
    end_ms: int


class Rival(Record):
    """Another path through the strict grammar. `behind`: how much less likely than the best one, in nats (>= 0)."""

    text: str
    behind: float


class Heard(Record):
    """What the recogniser delivered for one utterance: evidence, not yet a meaning.

    `text` is the best path of the strict grammar ("" = talk outside the grammar or nothing); `open_text` the free
    decode of the same sound, when there was one, `open_words` its words with their times; levels in dB (full scale,
    signal to noise), None when typed; `treated_snr_db`: signal to noise after the front end.
    `clipped`: the share of the sound that was too loud for the microphone. `gap`: samples were lost inside. `sound`:
    SHA-256 of the kept utterance.
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
    clipped: float = 0.0
    gap: bool = False
    sound: str | None = None
    by: Literal["voice", "typed"] = "voice"


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


Event = Annotated[Begun | Heard | Said | Due | Device | Resumed | Ended, Field(discriminator="kind")]


# --- effects: intentions --------------------------------------------------------------------------------------------


class Say(Record):
    """Speak and show these sentences, in this order, as one turn."""

    kind: Literal["say"] = "say"
    lines: tuple[Line, ...]


class StartTimer(Record):
    """Send `Due(timer)` at `due_ms`. A timer's name holds test, step and attempt, so a stale one is recognised."""

    kind: Literal["timer"] = "timer"
    timer: str
    due_ms: int


class Take(Record):
    """A reading was accepted for the record. `replaces`: it corrects the one before."""

    kind: Literal["take"] = "take"
    test: TestId
    slot: str
    readings: tuple[Reading, ...]
    replaces: bool = False


class Judged(Record):
    kind: Literal["judged"] = "judged"
    verdict: Verdict


class Marked(Record):
    """What one element of a recital got: the words that it was given for, and when they began."""

    kind: Literal["marked"] = "marked"
    element: str
    state: Literal["said", "missed", "wrong", "denied"]
    words: str = ""
    at_ms: int | None = None


class Close(Record):
    """The check is over; the log can be sealed."""

    kind: Literal["close"] = "close"
    complete: bool


Effect = Annotated[Say | StartTimer | Take | Judged | Marked | Close, Field(discriminator="kind")]

EVENTS: TypeAdapter[Event] = TypeAdapter(Event)
EFFECTS: TypeAdapter[tuple[Effect, ...]] = TypeAdapter(tuple[Effect, ...])
