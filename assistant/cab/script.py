"""The script of a trainee who talks through the check while doing it: the model talk-through, with what is done."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from assistant import assets
from assistant.core.events import Heard, Line, TestId
from assistant.core.plan import Fact, Plan, Test, plan
from assistant.core.prompts import Prompts
from assistant.review.recital import Scheme, debrief, mark
from assistant.vehicle.reciter import Judgement, Part

_REBUILT_PSI = 100.0
_JUDGED = {"pass": "that passes", "fail": "that fails", "not judged": "i can not judge that"}


def script(scheme: Scheme) -> tuple[Part, ...]:
    """Facts first, each by its gate, then the test: name, deed and limit in words, what is done, reading, judgement."""
    known = plan(scheme.standard, scheme.setup.vehicle)
    return tuple(_parts(scheme, known, assets.prompts()))


def judge(scheme: Scheme) -> Callable[[TestId, Sequence[str]], Judgement]:
    """Judges by what was said: a trainee who knows the limits, and what must not be moved."""

    def judged(test: TestId, said: Sequence[str]) -> Judgement:
        heard = [Heard(text=line, start_ms=at, end_ms=at, by="typed") for at, line in enumerate(said)]
        told = debrief(scheme, mark(scheme, heard))
        verdict = told.verdicts.get(test)
        return Judgement(
            _JUDGED["not judged" if verdict is None else verdict.outcome], stays=told.barred_by is not None
        )

    return judged


def _parts(scheme: Scheme, known: Plan, prompts: Prompts) -> Iterator[Part]:
    held: set[Fact] = set()
    for test in known.tests:

        def words(line: Line, moves: bool, test: TestId = test.id) -> Part:
            return Part("words", test, prompts.spoken(line).rstrip("."), moves=moves)

        for fact in (fact for step in test.steps for fact in step.needs):
            for one in _missing(fact, known, held):
                deed = known.gates[one].prompt.removeprefix("ask.")
                yield Part("deed", test.id, deed, _REBUILT_PSI, moves=test.moves)
                yield words(Line(prompt=f"card.{one}"), test.moves)
        yield words(Line(prompt="card.name", values={"test": test.id}), moves=False)
        yield words(Line(prompt=f"card.do-{test.id}"), test.moves)
        yield words(scheme.standard.limit_line(test.id, scheme.setup.vehicle, scheme.setup.unit), moves=False)
        for part in _doing(scheme, test, held):
            yield replace(part, moves=test.moves)


def _doing(scheme: Scheme, test: Test, held: set[Fact]) -> Iterator[Part]:
    """What is done for a test, and what comes of it. `held` loses the facts that this ends."""
    yield Part("forget", test.id)
    for step in test.steps:
        held.difference_update(step.ends)
        if step.id in ("light", "buzzer"):  # seen with the reading
            continue
        if step.kind == "hold":
            yield Part("wait", test.id, seconds=_hold_s(scheme, test.id))
        else:
            yield Part("deed", test.id, step.prompt.removeprefix("ask."), _bound(scheme, test.id, step.slot))
    yield Part("reading", test.id)
    yield Part("judgement", test.id)


def _missing(fact: Fact, known: Plan, held: set[Fact]) -> Iterator[Fact]:
    """The facts that have to be made for this one, in order; they hold from then on."""
    if fact in held:
        return
    gate = known.gates[fact]
    for need in gate.needs:
        yield from _missing(need, known, held)
    yield fact
    held.difference_update(gate.ends)
    held.add(fact)


def _hold_s(scheme: Scheme, test: TestId) -> float:
    limit = scheme.limit(test)
    return float(limit.hold or 60) if limit else 60.0


def _bound(scheme: Scheme, test: TestId, slot: str) -> float | None:
    limit = scheme.limit(test)
    if limit is None or limit.rise_from is None or limit.rise_to is None:
        return None
    return float((limit.rise_to if slot == "to" else limit.rise_from).value("psi"))
