"""What an utterance does to the open question, by its kind.

Law: no reading counts until it was read back; every number accepted leaves as a `Take` and is spoken again in the same
turn. What the driver says that contradicts a confirmed fact ends that fact.
"""

from __future__ import annotations

from fractions import Fraction

from assistant.core.dialogue.asking import answered, ask, pressure_bound, remind
from assistant.core.dialogue.state import Taken
from assistant.core.dialogue.turn import Turn
from assistant.core.events import Observation, Reading, Take
from assistant.core.hearing import Understood
from assistant.core.interval import exact
from assistant.core.plan import Fact, Step
from assistant.core.plausible import odd
from assistant.core.pressure import convert

# A report that contradicts what was confirmed before ends it, whatever is asked at the moment.
_VOIDS: dict[str, Fact] = {
    "chocks-out": "chocked",
    "chocks-in": "chocks-out",
    "engine-running": "engine-off",
    "engine-off": "engine-on",
    "brakes-released": "parked",
    "brakes-set": "released",
}


def answer(turn: Turn, understood: Understood) -> None:
    """Take what was understood as the answer to the open question."""
    question = turn.question
    if _void(turn, understood, question):
        return
    {
        "confirm": _confirm,
        "pressure": _pressure,
        "mark": _mark,
        "read": _read,
        "hold": _during_hold,
        "ask": _choose,
    }[question.kind](turn, question, understood)


def timing(turn: Turn) -> bool:
    """Whether a time is being taken: a hold or a rise has begun and its end has not been read."""
    return turn.state.hold is not None or "first" in turn.state.readings or "from" in turn.state.moments


def break_timing(turn: Turn) -> None:
    """A hold or a rise that was disturbed is worth nothing: back to the first step, also from before the moment at
    which the rise begins, since nobody knows whether the pressure is still below it."""
    if timing(turn):
        turn.say("hold.broken")
    if timing(turn) or "below" in turn.state.readings:
        turn.set(step=0, hold=None, readings={}, moments={}, facts=turn.state.facts - {"pedal"})


def miss(turn: Turn, prompt: str) -> None:
    """What was heard doesn't answer the question: say why, then ask again, the second time with help."""
    turn.set(tries=turn.state.tries + 1)
    turn.say(prompt)
    if turn.state.tries > 1:
        turn.say(f"help.{turn.question.kind}")
    remind(turn)


def merge(kept: tuple[Reading, ...], new: tuple[Reading, ...], needles: int) -> tuple[Reading, ...] | None:
    """Readings of one slot after more were spoken, by needle; None when it stays open which needle is meant."""
    by_needle = {reading.needle: reading for reading in kept}
    for reading in new:
        if reading.needle is None and needles == 2 and len(by_needle) == 1 and None not in by_needle:
            other = "secondary" if "primary" in by_needle else "primary"
            reading = reading.model_copy(update={"needle": other})
        elif reading.needle is None and any(by_needle):
            return None
        by_needle[reading.needle] = reading
    return tuple(by_needle.values())


def _void(turn: Turn, understood: Understood, question: Step) -> bool:
    """End facts that were contradicted by something else than the answer; a running hold ends with them."""
    contradicting = [report for report in understood.reports if report not in question.heard_as]
    ended = {_VOIDS[report] for report in contradicting if report in _VOIDS} & turn.state.facts
    if not ended:
        return False
    turn.set(facts=turn.state.facts - ended)
    break_timing(turn)
    ask(turn)
    return True


def _tokens(understood: Understood) -> tuple[str, ...]:
    """Reports, a yes or no and "continue", the words that a question may take for an answer."""
    spoken = (*understood.reports, understood.answer or "", understood.command or "")
    return tuple(token for token in spoken if token)


def _confirm(turn: Turn, question: Step, understood: Understood) -> None:
    tokens = _tokens(understood)
    if any(token in question.denied_by for token in tokens):
        turn.say(f"denied.{question.id}")
        remind(turn)
    elif any(token in question.heard_as for token in tokens):
        answered(turn)
    else:
        miss(turn, "again.not-an-answer")


def _pressure(turn: Turn, question: Step, understood: Understood) -> None:
    readings = _gather(turn, question, understood)
    if readings is not None:
        settle_gate(turn, question, readings)


def settle_gate(turn: Turn, question: Step, readings: tuple[Reading, ...]) -> None:
    """A gate on pressure: the vehicle waits until every needle that was read is on the right side of the bound."""
    bound = pressure_bound(turn, question)
    worst = -1 if question.slot == "at least" else 1  # of a range, the end that speaks against going on
    values = [_in_unit_of(bound, reading, worst) for reading in readings] if bound else []
    if all(value >= bound.value if question.slot == "at least" else value < bound.value for value in values if bound):
        answered(turn)
    else:
        turn.set(readings={slot: kept for slot, kept in turn.state.readings.items() if slot != question.slot})
        turn.say(f"not-yet.{question.id}", pressure=bound)


def _mark(turn: Turn, question: Step, understood: Understood) -> None:
    """The moment counts at which the word began; the pressure itself, spoken, marks it as well."""
    bound = pressure_bound(turn, question)
    spoken = [reading for reading in understood.readings if bound and _in_unit_of(bound, reading) == bound.value]
    if spoken:
        moment = spoken[-1].at_ms
    elif any(report in question.heard_as for report in understood.reports):
        moment = understood.moment_ms
    else:
        miss(turn, "again.not-an-answer")
        return
    turn.set(moments={**turn.state.moments, question.slot: turn.at_ms if moment is None else moment})
    if question.slot == "from":
        turn.say("readback.started")  # the seconds are read back with the verdict
    answered(turn)


# The two knobs: a number reported for one of them is never the other one's.
_POPPED = frozenset({"trailer-knob-popped", "parking-knob-popped"})


def _read(turn: Turn, question: Step, understood: Understood) -> None:
    popped = _POPPED.intersection(understood.reports)
    if popped and not popped & question.heard_as.keys():
        miss(turn, "again.not-an-answer")
        return
    side = dict(
        question.heard_as[token].split("=") for token in _tokens(understood) if "=" in question.heard_as.get(token, "")
    )
    turn.set(answers={**turn.state.answers, **side})
    if side.get("popped") in ("no", "not fitted"):
        answered(turn)
    elif understood.readings:
        if _gather(turn, question, understood) is not None:
            answered(turn)
    elif side:
        turn.say("ask.and-the-reading")
    else:
        miss(turn, "again.not-an-answer")


def _during_hold(turn: Turn, question: Step, understood: Understood) -> None:
    del question
    hold = turn.state.hold
    if hold is not None and (understood.readings or understood.reports):
        turn.say("hold.not-yet", seconds=max(1, round((hold.due_ms - turn.at_ms) / 1000)))


def _choose(turn: Turn, question: Step, understood: Understood) -> None:
    """One of the answers; a report that answers a later question of the test in the same breath is kept for it."""
    chosen = {question.heard_as[token] for token in _tokens(understood) if token in question.heard_as}
    if len(chosen) != 1:
        miss(turn, "again.not-an-answer")
        return
    later = {
        step.slot: step.heard_as[report]
        for step in turn.test.steps[turn.state.step + 1 :]
        if step.kind == "ask"
        for report in understood.reports
        if report in step.heard_as
    }
    turn.set(answers={**turn.state.answers, **later, question.slot: chosen.pop()})
    answered(turn)


def _gather(turn: Turn, question: Step, understood: Understood) -> tuple[Reading, ...] | None:
    """Accept the readings of an utterance for the question's slot; None while some are missing or in doubt."""
    if not understood.readings:
        miss(turn, "again.not-an-answer")
        return None
    needles = turn.vehicle.needles
    kept = turn.state.readings.get(question.slot, ()) if question.each else ()
    readings = merge(kept, understood.readings, needles)
    if readings is None or (question.each and needles == 2 and readings[0].needle is None):
        miss(turn, "again.which-needle")
        return None
    if _asked_again_as_odd(turn, question, readings):
        return None
    take(turn, question.slot, readings)
    turn.say("readback.readings", readings=understood.readings if kept == () else readings[-len(understood.readings) :])
    if question.each and len(readings) < needles:
        turn.say("ask.other-needle", needle="secondary" if readings[0].needle == "primary" else "primary")
        return None
    return readings


def take(turn: Turn, slot: str, readings: tuple[Reading, ...], replaces: bool = False) -> None:
    """Put readings on the record of the open test."""
    turn.set(readings={**turn.state.readings, slot: readings}, taken=Taken(test=turn.test.id, slot=slot))
    turn.effect(Take(test=turn.test.id, slot=slot, readings=readings, replaces=replaces))


def _asked_again_as_odd(turn: Turn, question: Step, readings: tuple[Reading, ...]) -> bool:
    """An improbable reading is asked again with the reason, once: the driver who repeats it is believed."""
    if _same_values(turn.state.odd, readings):
        return False
    seen = Observation(test=turn.test.id, readings={**turn.state.readings, question.slot: readings})
    for reading in readings:
        why = odd(turn.test.id, question.slot, reading, seen, turn.earlier(), turn.standard, turn.vehicle)
        if why is not None:
            turn.set(odd=readings, tries=turn.state.tries + 1)
            turn.say("readback.readings", readings=readings)
            turn.say_line(why)
            turn.say("again.plain")
            return True
    return False


def _same_values(one: tuple[Reading, ...], other: tuple[Reading, ...]) -> bool:
    return [(r.value, r.unit, r.needle) for r in one] == [(r.value, r.unit, r.needle) for r in other]


def _in_unit_of(bound: Reading, reading: Reading, end: int = 0) -> Fraction:
    """The reading in the unit of the bound. `end`: -1 the lower, 1 the upper end of what was spoken as a range."""
    return convert(exact(reading.value) + end * exact(reading.within or 0), reading.unit, bound.unit)
