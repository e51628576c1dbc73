"""Corrections: the latest reading can be replaced or taken back until the next test has taken something."""

from __future__ import annotations

from assistant.core.dialogue.answers import merge, miss, take
from assistant.core.dialogue.asking import ask, record, remind
from assistant.core.dialogue.turn import Turn
from assistant.core.evaluator import evaluate
from assistant.core.events import Reading, Take
from assistant.core.hearing import Understood


def correct(turn: Turn, understood: Understood) -> None:
    """Replace or take back the latest reading; both the old and the new one stay in the log."""
    taken = turn.state.taken
    if taken is None:
        miss(turn, "again.nothing-to-correct")
    elif taken.test == turn.test.id:
        _in_open_test(turn, taken.slot, understood.readings)
    elif _untouched(turn) and understood.readings:
        _in_closed_test(turn, understood.readings)
    else:
        miss(turn, "again.too-late")


def _in_open_test(turn: Turn, slot: str, new: tuple[Reading, ...]) -> None:
    """Back to the step that took the reading when it was taken back or decides about the way on; else just replace."""
    step = next((index for index, step in enumerate(turn.test.steps) if step.slot == slot), turn.state.step)
    if not new:
        turn.set(readings={key: kept for key, kept in turn.state.readings.items() if key != slot}, taken=None)
        turn.set(step=step, hold=None)
        turn.effect(Take(test=turn.test.id, slot=slot, readings=(), replaces=True))
        turn.say("readback.taken-back")
        ask(turn)
        return
    merged = merge(_matching(turn.state.readings[slot], new), new, turn.vehicle.needles)
    if merged is None:
        miss(turn, "again.which-needle")
        return
    take(turn, slot, merged, replaces=True)
    turn.say("readback.corrected", readings=new)
    if turn.test.steps[step].kind == "pressure" or turn.question.kind == "pressure":
        _check_gate_again(turn, step)
    elif turn.state.hold is None:
        remind(turn)


def _check_gate_again(turn: Turn, step: int) -> None:
    """A corrected gate pressure is read again rather than trusted: the gate is asked anew."""
    if turn.test.steps[step].kind == "pressure":
        turn.set(step=step)
    turn.set(facts=turn.state.facts - {"rebuilt"})
    ask(turn)


def _in_closed_test(turn: Turn, new: tuple[Reading, ...]) -> None:
    """The verdict was already spoken: judge again with the corrected reading and speak the new verdict."""
    taken = turn.state.taken
    if taken is None:
        return
    before = turn.state.observations[taken.test]
    merged = merge(_matching(before.readings[taken.slot], new), new, turn.vehicle.needles)
    if merged is None:
        miss(turn, "again.which-needle")
        return
    observation = before.model_copy(update={"readings": {**before.readings, taken.slot: merged}})
    others = {test: seen for test, seen in turn.state.observations.items() if test != taken.test}
    verdict = evaluate(observation, turn.standard, turn.vehicle, others)
    turn.set(observations={**turn.state.observations, taken.test: observation})
    turn.effect(Take(test=taken.test, slot=taken.slot, readings=merged, replaces=True))
    turn.say("readback.corrected", readings=new)
    record(turn, verdict)
    ask(turn)


def _matching(kept: tuple[Reading, ...], new: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """What the new readings are merged into: a single kept reading without a needle is simply replaced."""
    if len(kept) == 1 and len(new) == 1 and new[0].needle is None:
        return ()
    return kept


def _untouched(turn: Turn) -> bool:
    """Nothing of the open test has been taken yet."""
    return turn.state.step == 0 and not turn.state.readings and not turn.state.answers
