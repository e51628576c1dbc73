"""Where the check goes next: the open question, the next step, the verdict of a finished test, the end."""

from __future__ import annotations

from assistant.core.dialogue.state import Hold
from assistant.core.dialogue.turn import Turn
from assistant.core.evaluator import bars_movement, evaluate
from assistant.core.events import Close, Judged, Line, Reading, StartTimer, TestId, Verdict
from assistant.core.plan import Fact, Step

_BARRED = "barred-by:"  # and the test that did it: why a test was not done


def ask(turn: Turn) -> None:
    """Ask the open question; tests that must not be done and answers that are already there are passed over."""
    while True:
        if barrier := _barred_by(turn):
            judge(turn, not_done=f"{_BARRED}{barrier}")
            continue
        question = turn.question
        if question.kind != "ask" or question.slot not in turn.state.answers:
            _put(turn, question)
            return
        _next_place(turn)


def answered(turn: Turn) -> None:
    """The open question has its answer: keep what it makes true, and go on."""
    question = turn.question
    if turn.finished:
        close(turn)
        return
    turn.set(facts=(turn.state.facts - frozenset(question.ends)) | frozenset(question.makes))
    if question is turn.step:
        _next_place(turn)
    ask(turn)


def judge(turn: Turn, not_done: str | None = None) -> None:
    """Close the open test with a verdict and move to the next one."""
    observation = turn.observation(not_done)
    verdict = evaluate(observation, turn.standard, turn.vehicle, turn.earlier())
    turn.set(observations={**turn.state.observations, observation.test: observation})
    record(turn, verdict)
    start_test(turn, turn.state.test + 1)
    if not turn.finished and not _barred_by(turn):
        turn.say("flow.next-test", test=turn.test.id)


def record(turn: Turn, verdict: Verdict) -> None:
    """Keep and speak a verdict; a failure says what a driver does next, unless the summary is about to."""
    turn.set(verdicts={**turn.state.verdicts, verdict.test: verdict})
    turn.effect(Judged(verdict=verdict))
    turn.say(f"verdict.{verdict.outcome.replace(' ', '-')}", test=verdict.test)
    turn.say_line(verdict.reason)
    if verdict.outcome == "fail" and verdict.test != turn.plan.tests[-1].id:
        turn.say("caution.failed")


def barred(turn: Turn, test: TestId) -> bool:
    """Whether a test was not done because an earlier one had failed."""
    seen = turn.state.observations.get(test)
    return seen is not None and (seen.not_done or "").startswith(_BARRED)


def forget_from(turn: Turn, index: int) -> None:
    """Drop what was found in the tests from this place of the plan on; it stays in the log."""
    later = {test.id for test in turn.plan.tests[index:]}
    turn.set(
        observations={test: seen for test, seen in turn.state.observations.items() if test not in later},
        verdicts={test: verdict for test, verdict in turn.state.verdicts.items() if test not in later},
    )


def reconsider(turn: Turn) -> None:
    """After a verdict was changed: the tests that were barred are done after all, if nothing bars them any more."""
    first = next((place for place, test in enumerate(turn.plan.tests) if barred(turn, test.id)), None)
    done = [verdict for test, verdict in turn.state.verdicts.items() if not barred(turn, test)]
    if first is None or any(map(bars_movement, done)):
        return
    forget_from(turn, first)
    start_test(turn, first)
    turn.say("flow.next-test", test=turn.test.id)


def start_test(turn: Turn, index: int, facts: frozenset[Fact] | None = None) -> None:
    """Open a test from its first step with nothing gathered. `facts`: what still holds, None = all that did."""
    turn.set(test=index, step=0, readings={}, answers={}, moments={}, hold=None, odd=(), mode="asking")
    if facts is not None:
        turn.set(facts=facts, taken=None)


def close(turn: Turn) -> None:
    """Say the summary and end the check."""
    verdicts = turn.state.verdicts.values()
    failed = [verdict for verdict in verdicts if verdict.outcome == "fail"]
    counts = {name: sum(verdict.outcome == name for verdict in verdicts) for name in ("pass", "fail", "not judged")}
    turn.say(
        "closing.counts",
        passed=counts["pass"],
        failed=counts["fail"],
        open=len(turn.plan.tests) - len(verdicts) + counts["not judged"],
    )
    for verdict in failed:
        turn.say("closing.failed-test", test=verdict.test)
    turn.say("closing.failed" if failed else "closing.open" if not _all_passed(turn) else "closing.passed")
    turn.say("closing.secure")
    turn.set(mode="closed")
    turn.effect(Close(complete=turn.finished))


def remind(turn: Turn) -> None:
    """Put the open question again without counting it as a new one."""
    turn.say_line(question_line(turn, turn.question))


def question_line(turn: Turn, step: Step) -> Line:
    """The prompt of a step with the pressures and times of the standard in it."""
    if step.kind == "hold":
        return Line(prompt=step.prompt, values={"seconds": hold_seconds(turn)})
    bound = pressure_bound(turn, step)
    return Line(prompt=step.prompt, values={} if bound is None else {"pressure": bound})


def pressure_bound(turn: Turn, step: Step) -> Reading | None:
    """The pressure that a gate or a mark is about, from the standard; None for other steps."""
    if step.slot == "at least":
        return turn.standard.before_moving(turn.unit)
    rise = turn.standard.rise(turn.vehicle, turn.unit) if step.kind in ("pressure", "mark") else None
    if rise is None:
        return None
    return rise.end if step.slot == "to" else rise.start


def hold_seconds(turn: Turn) -> int:
    return turn.standard.hold_seconds(turn.test.id, turn.vehicle)


def _put(turn: Turn, question: Step) -> None:
    turn.set(asked=turn.state.asked + 1, tries=0, odd=())
    turn.say_line(question_line(turn, question))
    if question.kind == "hold":
        _start_hold(turn)


def _start_hold(turn: Turn) -> None:
    """The hold runs from the moment the last of the first readings was spoken, not from when it was understood."""
    attempt = turn.state.holds + 1
    began = max(reading.at_ms or turn.at_ms for reading in turn.state.readings["first"])
    length = hold_seconds(turn) * 1000
    turn.set(holds=attempt, hold=Hold(attempt=attempt, from_ms=began, due_ms=began + length))
    for name, due in (("half", began + length // 2), ("hold", began + length)):
        turn.effect(StartTimer(timer=f"{name}/{turn.test.id}/{attempt}", due_ms=due))


def _next_place(turn: Turn) -> None:
    if turn.state.step + 1 < len(turn.test.steps):
        turn.set(step=turn.state.step + 1, hold=None)
    else:
        judge(turn)


def _barred_by(turn: Turn) -> str | None:
    """The earlier test that keeps the vehicle where it is, if the open test would move it."""
    if turn.finished or not turn.test.moves:
        return None
    return next((test for test, verdict in turn.state.verdicts.items() if bars_movement(verdict)), None)


def _all_passed(turn: Turn) -> bool:
    return turn.finished and all(verdict.outcome == "pass" for verdict in turn.state.verdicts.values())
