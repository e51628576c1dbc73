"""Replay: the events of a session log go through the reducer again; what comes out must be what was written.

Law: nothing is judged here. The first difference between the recomputed and the recorded effects is shown, never
smoothed over.
"""

from __future__ import annotations

from collections.abc import Iterable

from assistant.core.events import Begun, Effect
from assistant.core.flow import Flow, S
from assistant.core.trouble import LogTrouble
from assistant.log import Entry


class Difference(LogTrouble):
    """The recomputed effects of an entry are not those in the log."""

    exit_code = 1


def fold(flow: Flow[S], entries: Iterable[Entry]) -> S:
    """The state after all `entries`. Raises Difference at the first entry whose effects come out otherwise."""
    state, difference = recompute(flow, entries)
    if difference is not None:
        raise Difference(difference)
    return state


def recompute(flow: Flow[S], entries: Iterable[Entry]) -> tuple[S, str | None]:
    """The state that the events of the entries lead to, whatever effects were written, and the first difference of
    these in a sentence; None: there is none.

    Raises LogTrouble when there is nothing to recompute."""
    state: S | None = None
    difference: str | None = None
    for entry in entries:
        step: tuple[S, tuple[Effect, ...]] = _step(flow, state, entry)
        state, effects = step
        if difference is None and effects != entry.effects:
            difference = _first_difference(entry, effects)
    if state is None:
        raise LogTrouble("The session log holds no check yet: there is nothing to replay.")
    return state, difference


def _step(flow: Flow[S], state: S | None, entry: Entry) -> tuple[S, tuple[Effect, ...]]:
    if isinstance(entry.event, Begun):
        return flow.begin(entry.event)
    if state is None:
        raise LogTrouble("The session log does not start with the beginning of a check.")
    return flow.reduce(state, entry.t_ms, entry.event)


def _first_difference(entry: Entry, recomputed: tuple[Effect, ...]) -> str:
    pairs = zip((*entry.effects, None), (*recomputed, None), strict=False)
    written, now = next((a, b) for a, b in pairs if a != b)
    return (
        f"Entry {entry.seq} does not recompute: the log has {_short(written)}, the same events now give {_short(now)}. "
        "Either the log was changed or it was made with other limits or another version."
    )


def _short(effect: Effect | None) -> str:
    return "nothing" if effect is None else effect.model_dump_json(exclude_defaults=True)
