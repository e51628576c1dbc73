"""Corrections: the latest reading can be replaced or taken back until the next test has taken something."""

from __future__ import annotations

from assistant.core.dialogue.answers import answer, merge, miss, settle_gate, take
from assistant.core.dialogue.asking import ask, reconsider, record, remind
from assistant.core.dialogue.turn import Turn, widths
from assistant.core.evaluator import evaluate
from assistant.core.events import Reading, Take, TestId
from assistant.core.hearing import Understood

_SAME_WORD_MS = 300
"""A word that is decoded once more may begin a little later; the word before it was further away."""


def correct(turn: Turn, understood: Understood) -> None:
    """Replace or take back the latest reading; both the old and the new one stay in the log."""
    taken = turn.state.taken
    if taken is None:
        miss(turn, "again.nothing-to-correct")
    elif turn.state.odd and understood.readings:
        answer(turn, understood)  # the reading that was asked again as odd was never taken: this one replaces it
    elif _is_open(turn, taken.test) and taken.slot not in turn.state.readings:
        answer(turn, understood)  # a gate that stayed shut has dropped the reading: this is simply the next one
    elif _is_open(turn, taken.test):
        _in_open_test(turn, taken.slot, understood.readings)
    elif _untouched(turn) and understood.readings:
        _in_closed_test(turn, understood.readings)
    elif _untouched(turn):
        miss(turn, "again.and-the-right-one")
    else:
        miss(turn, "again.too-late")


def taken_since(turn: Turn, since_ms: int) -> bool:
    """Whether the latest reading was spoken since then: what goes on with an utterance corrects what was taken of it,
    and nothing earlier."""
    taken = turn.state.taken
    if taken is None:
        return False
    observed = turn.state.observations.get(taken.test)
    slots = turn.state.readings if observed is None else observed.readings
    return any((one.at_ms or 0) >= since_ms - _SAME_WORD_MS for one in slots.get(taken.slot, ()))


def _in_open_test(turn: Turn, slot: str, new: tuple[Reading, ...]) -> None:
    kept = turn.state.readings[slot]
    if not new:
        turn.effect(Take(test=turn.test.id, slot=slot, readings=(), replaces=True))
        turn.say("readback.taken-back")
        _reopen(turn, slot)
        ask(turn)
        return
    merged = merge(_matching(kept, new), _at_the_old_moment(kept, new), turn.vehicle.needles)
    if merged is None:
        miss(turn, "again.which-needle")
        return
    gate = slot in ("below", "at least")
    if gate:
        _reopen(turn, slot)
    take(turn, slot, merged, replaces=True)
    turn.say("readback.corrected", readings=new)
    if gate:
        settle_gate(turn, turn.question, merged)
    elif turn.state.hold is None:
        remind(turn)


def _reopen(turn: Turn, slot: str) -> None:
    """Back to the question that took the readings of a slot, with the slot empty."""
    step = next((index for index, step in enumerate(turn.test.steps) if step.slot == slot), turn.state.step)
    readings = {key: kept for key, kept in turn.state.readings.items() if key != slot}
    turn.set(step=step, hold=None, readings=readings, taken=None)
    if slot == "at least":
        turn.set(facts=turn.state.facts - {"rebuilt"})


def _in_closed_test(turn: Turn, new: tuple[Reading, ...]) -> None:
    """The verdict was already spoken: judge again with the corrected reading and speak the new verdict."""
    taken = turn.state.taken
    if taken is None:
        return
    before = turn.state.observations[taken.test]
    kept = before.readings[taken.slot]
    merged = merge(_matching(kept, new), _at_the_old_moment(kept, new), turn.vehicle.needles)
    if merged is None:
        miss(turn, "again.which-needle")
        return
    readings = {**before.readings, taken.slot: merged}
    observation = before.model_copy(update={"readings": readings, "within": widths(readings)})
    others = {test: seen for test, seen in turn.state.observations.items() if test != taken.test}
    verdict = evaluate(observation, turn.standard, turn.vehicle, others)
    turn.set(observations={**turn.state.observations, taken.test: observation})
    turn.effect(Take(test=taken.test, slot=taken.slot, readings=merged, replaces=True))
    turn.say("readback.corrected", readings=new)
    record(turn, verdict)
    if taken.slot == "at least":
        turn.set(facts=turn.state.facts - {"rebuilt"})  # what opened the gate was another number
    reconsider(turn)
    ask(turn)


def _at_the_old_moment(kept: tuple[Reading, ...], new: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """A correction changes what was read, not when: a hold is timed from the moment of the reading it replaces."""
    by_needle = {reading.needle: reading.at_ms for reading in kept}
    latest = max((reading.at_ms or 0 for reading in kept), default=None)
    return tuple(one.model_copy(update={"at_ms": by_needle.get(one.needle, latest)}) for one in new)


def _matching(kept: tuple[Reading, ...], new: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """What the new readings are merged into: a single kept reading without a needle is simply replaced."""
    if len(kept) == 1 and len(new) == 1 and new[0].needle is None:
        return ()
    return kept


def _is_open(turn: Turn, test: TestId) -> bool:
    return not turn.finished and turn.test.id == test


def _untouched(turn: Turn) -> bool:
    """Nothing of the open test has been taken yet."""
    return turn.state.step == 0 and not turn.state.readings and not turn.state.answers
