"""The vocabulary: every record that can stand in a session log.

Law: events are past facts, effects are intentions. Records are frozen, refuse unknown fields, NaN and infinity,
and only ever grow by optional fields, so that an old log folds for ever.
Times are whole milliseconds of the check (0 = the check began), unless a name says otherwise.
"""

from __future__ import annotations

from pydantic import TypeAdapter

from assistant.core.events.happenings import Begun, Device, Due, Ended, Event, Gauges, Heard, Resumed, Rival, Said, Word
from assistant.core.events.intentions import Close, Effect, Judged, Marked, Say, StartTimer, Take
from assistant.core.events.subjects import (
    Line,
    MakerFigure,
    Needle,
    Observation,
    Outcome,
    Reading,
    Record,
    Setup,
    TestId,
    Unit,
    Value,
    Vehicle,
    VehicleClass,
    Verdict,
)

__all__ = [
    "EFFECTS",
    "EVENTS",
    "Begun",
    "Close",
    "Device",
    "Due",
    "Effect",
    "Ended",
    "Event",
    "Gauges",
    "Heard",
    "Judged",
    "Line",
    "MakerFigure",
    "Marked",
    "Needle",
    "Observation",
    "Outcome",
    "Reading",
    "Record",
    "Resumed",
    "Rival",
    "Said",
    "Say",
    "Setup",
    "StartTimer",
    "Take",
    "TestId",
    "Unit",
    "Value",
    "Vehicle",
    "VehicleClass",
    "Verdict",
    "Word",
]

EVENTS: TypeAdapter[Event] = TypeAdapter(Event)
EFFECTS: TypeAdapter[tuple[Effect, ...]] = TypeAdapter(tuple[Effect, ...])
