"""Commands, which are open at any time: help, repeat, go back, cancel, stop, stand by, continue, skip and questions."""

from __future__ import annotations

from assistant.core.causes import causes
from assistant.core.dialogue.answers import break_timing, miss
from assistant.core.dialogue.asking import ask, barred, close, forget_from, judge, remind, start_test
from assistant.core.dialogue.turn import Turn
from assistant.core.hearing import Understood
from assistant.core.plan import Fact

# What has to be done anew when a test is repeated: the pressure is no longer the one it began with.
_SPENT: frozenset[Fact] = frozenset({"unloaded", "charged", "pedal", "rebuilt"})


def command(turn: Turn, understood: Understood) -> bool:
    """Carry out a command; False when it is none that has an effect of its own here."""
    known = {
        "help": _help,
        "repeat": _repeat,
        "go-back": _go_back,
        "cancel": _cancel,
        "stop": _stop,
        "stand-by": _stand_by,
        "limit": _limit,
        "time-left": _time_left,
        "why": _why,
        "status": _status,
    }
    if understood.command == "skip" and turn.finished:
        miss(turn, "again.not-an-answer")
    elif understood.command == "skip":
        skip(turn, understood.reason)
    elif understood.command in known:
        known[understood.command](turn)
    else:
        return False
    return True


def go_on(turn: Turn) -> None:
    """Continue after a pause: the open question is put again, a hold starts anew."""
    turn.set(mode="asking")
    ask(turn)


def skip(turn: Turn, reason: str | None) -> None:
    """Leave the open test without a verdict, with the driver's reason; without one, ask for it first."""
    if reason is None:
        turn.set(mode="skipping")
        turn.say("ask.skip-reason")
        return
    turn.set(mode="asking")
    judge(turn, not_done=reason)
    ask(turn)


def _help(turn: Turn) -> None:
    turn.say(f"help.{turn.question.kind}")
    turn.say("help.commands")
    _remind_unless_holding(turn)


def _repeat(turn: Turn) -> None:
    turn.say_line(*turn.state.last_said)


def _go_back(turn: Turn) -> None:
    """One test back, or to the last one that could be done, with all confirmations asked anew; its earlier verdict
    stays in the log only."""
    index = max(0, turn.state.test - 1)
    while index > 0 and barred(turn, turn.plan.tests[index].id):
        index -= 1
    forget_from(turn, index)
    start_test(turn, index, facts=frozenset())
    turn.say("flow.back", test=turn.test.id)
    ask(turn)


def _cancel(turn: Turn) -> None:
    """The open test again from its start; after the last test, that one."""
    if turn.finished:
        _go_back(turn)
        return
    start_test(turn, turn.state.test, facts=turn.state.facts - _SPENT)
    turn.say("flow.again", test=turn.test.id)
    ask(turn)


def _stop(turn: Turn) -> None:
    if turn.state.mode == "stopped" or turn.finished:
        close(turn)
        return
    start_test(turn, turn.state.test, facts=frozenset())
    turn.set(mode="stopped")
    turn.say("flow.stopped")


def _stand_by(turn: Turn) -> None:
    break_timing(turn)
    turn.set(mode="standing by")
    turn.say("flow.standing-by")


def _limit(turn: Turn) -> None:
    turn.say_line(turn.standard.limit_line(turn.test.id, turn.vehicle, turn.unit))
    _remind_unless_holding(turn)


def _time_left(turn: Turn) -> None:
    if turn.state.hold is None:
        turn.say("hold.none")
    else:
        turn.say("hold.left", seconds=max(1, round((turn.state.hold.due_ms - turn.at_ms) / 1000)))


def _why(turn: Turn) -> None:
    """The reason of the latest verdict that was found, and what a qualified person would look at."""
    found = [verdict for test, verdict in turn.state.verdicts.items() if not barred(turn, test)]
    if not found:
        turn.say("why.nothing")
    else:
        verdict = found[-1]
        turn.say(f"verdict.{verdict.outcome.replace(' ', '-')}", test=verdict.test)
        turn.say_line(verdict.reason)
        turn.say_line(*causes(verdict, turn.state.verdicts))
    _remind_unless_holding(turn)


def _status(turn: Turn) -> None:
    turn.say("flow.status", number=turn.plan.tests.index(turn.test) + 1, of=len(turn.plan.tests), test=turn.test.id)
    _remind_unless_holding(turn)


def _remind_unless_holding(turn: Turn) -> None:
    if turn.state.hold is None and turn.state.mode == "asking":
        remind(turn)
