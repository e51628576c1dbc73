"""The front door of the dialogue: one event in, the next state and the effects out."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.core.dialogue.answers import answer, break_timing
from assistant.core.dialogue.asking import answered, ask, close, remind
from assistant.core.dialogue.commands import command, go_on, skip
from assistant.core.dialogue.corrections import correct, taken_since
from assistant.core.dialogue.state import State
from assistant.core.dialogue.turn import Turn
from assistant.core.events import Begun, Device, Due, Effect, Ended, Event, Gauges, Heard, Resumed, Said, StartTimer
from assistant.core.hearing import Understood, understand
from assistant.core.language import Language
from assistant.core.plan import Plan
from assistant.core.standard import Standard

_SILENT_REPROMPTS = 2  # after these the assistant waits quietly: the driver has the pace


@dataclass(frozen=True)
class Dialogue:
    """What the reducer knows that is not state: the standard, the plan made from it, and the language understood."""

    standard: Standard
    plan: Plan
    language: Language

    def begin(self, event: Begun) -> tuple[State, tuple[Effect, ...]]:
        """The first state of a check, and its opening words."""
        turn = Turn(self.standard, self.plan, State(setup=event.setup), 0)
        turn.say("opening.caution")
        turn.say("opening.check", standard=self.standard.title, vehicle=event.setup.vehicle.vehicle_class)
        ask(turn)
        return turn.result()

    def reduce(self, state: State, at_ms: int, event: Event) -> tuple[State, tuple[Effect, ...]]:
        """Answer one event at `at_ms`. After the end of the check nothing changes any more."""
        turn = Turn(self.standard, self.plan, state, at_ms)
        if state.mode == "closed" and (turn.finished or not isinstance(event, Resumed)):
            return turn.result()
        match event:
            case Heard():
                understood = understand(event, self.language, state.setup.unit)
                if event.goes_on and taken_since(turn, event.start_ms):
                    understood = understood.model_copy(update={"correction": True})
                _heard(turn, understood, typed=event.by == "typed")
            case Said():
                _said(turn)
            case Due():
                _due(turn, event.timer)
            case Device():
                _device(turn, event)
            case Resumed():
                _resumed(turn)
            case Ended():
                _ended(turn, event)
            case Begun() | Gauges():
                pass
        return turn.result()

    def finished(self, state: State) -> bool:
        """Every test of the plan has its verdict."""
        return self.plan.none_left(state.test)


def _heard(turn: Turn, understood: Understood, typed: bool) -> None:
    if understood.command == "stop":
        command(turn, understood)
    elif turn.state.mode in ("standing by", "stopped"):
        if understood.command == "continue":
            go_on(turn)
    elif understood.kind == "unclear":
        _unclear(turn, understood, typed)
    elif turn.state.mode == "skipping":
        _skip_reason(turn, understood)
    elif understood.correction or understood.takes_back:
        correct(turn, understood)
    elif not (understood.command and command(turn, understood)):
        answer(turn, understood)


def _unclear(turn: Turn, understood: Understood, typed: bool) -> None:
    """Talk is none of our business; anything that may have been meant for us is asked again, at last digit by digit."""
    why = understood.why or "talk"
    if why == "talk" and not typed:
        return
    turn.set(tries=turn.state.tries + 1)
    number = bool(understood.candidates) or why == "out of range"
    turn.say("again.doubtful-number" if why == "doubtful" and number else f"again.{why.replace(' ', '-')}")
    if turn.state.tries > 1 and number:
        turn.say("again.digits")
    elif turn.state.tries > 1:
        remind(turn)


def _skip_reason(turn: Turn, understood: Understood) -> None:
    reason = understood.reason or ("not-fitted" if "not-fitted" in understood.reports else None)
    if reason is not None:
        skip(turn, reason)
    elif understood.command in ("cancel", "continue", "go-back"):
        go_on(turn)
    else:
        skip(turn, None)


def _said(turn: Turn) -> None:
    """The silence after a question is timed from the moment its last word has left."""
    state = turn.state
    reprompted = state.tries >= _SILENT_REPROMPTS and not turn.finished
    if state.mode != "asking" or turn.question.patience_s is None or reprompted:
        return
    due = turn.at_ms + turn.question.patience_s * 1000
    turn.effect(StartTimer(timer=f"silence/{state.asked}/{state.tries}", due_ms=due))


def _due(turn: Turn, timer: str) -> None:
    """Only the timer of the running hold or of the open question counts; a stale one changes nothing."""
    state = turn.state
    running = state.hold.attempt if state.hold else None
    if timer == f"hold/{turn.test.id}/{running}":
        answered(turn)
    elif timer == f"half/{turn.test.id}/{running}" and state.hold is not None:
        turn.say("hold.half", seconds=round((state.hold.due_ms - turn.at_ms) / 1000))
    elif timer != f"silence/{state.asked}/{state.tries}" or state.mode != "asking":
        return
    elif turn.finished and not _deaf(turn):
        close(turn)  # silence accepts the last answers
    elif not turn.finished:
        turn.set(tries=state.tries + 1)
        if turn.state.tries > 1:
            turn.say(f"help.{turn.question.kind}")
        remind(turn)


def _device(turn: Turn, event: Device) -> None:
    """What was heard stays; a running hold is void; the question is put again when it can be answered again."""
    break_timing(turn)
    turn.say(f"device.{event.device}-{event.state}")
    gone = frozenset({event.device})
    turn.set(lost=turn.state.lost | gone if event.state == "lost" else turn.state.lost - gone)
    if event.state == "back" and not _deaf(turn) and turn.state.mode == "asking":
        ask(turn)


def _deaf(turn: Turn) -> bool:
    """Nobody can be heard, so silence says nothing."""
    return "microphone" in turn.state.lost


def _resumed(turn: Turn) -> None:
    """Nobody knows what happened in between: every fact is asked again, and a hold starts anew."""
    break_timing(turn)
    turn.set(facts=frozenset(), mode="asking", taken=None, lost=frozenset())
    if not turn.finished:
        turn.say("flow.resumed", test=turn.test.id)
    ask(turn)


def _ended(turn: Turn, event: Ended) -> None:
    turn.say(f"ended.{event.why.replace(' ', '-')}")
    close(turn)
