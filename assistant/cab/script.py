"""The script of a trainee who talks through the check while doing it: the model talk-through, with what is done."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from assistant import assets
from assistant.core.events import Heard, Line, TestId
from assistant.core.plan import Fact, Plan, plan
from assistant.core.prompts import Prompts
from assistant.review.recital import Scheme, debrief, mark
from assistant.vehicle.reciter import Part

_REBUILT_PSI = 100.0
_JUDGED = {"pass": "that passes", "fail": "that fails", "not judged": "i can not judge that"}


def script(scheme: Scheme) -> tuple[Part, ...]:
    """Facts first, each by its gate, then the test: name, deed and limit in words, what is done, reading, judgement."""
    known = plan(scheme.standard, scheme.setup.vehicle)
    return tuple(_parts(scheme, known, assets.prompts()))


def judge(scheme: Scheme) -> Callable[[TestId, Sequence[str]], str]:
    """Judges by what was said: a trainee who knows the limits."""

    def words(test: TestId, said: Sequence[str]) -> str:
        heard = [Heard(text=line, start_ms=at, end_ms=at, by="typed") for at, line in enumerate(said)]
        verdict = debrief(scheme, mark(scheme, heard)).verdicts.get(test)
        return _JUDGED["not judged" if verdict is None else verdict.outcome]

    return words


def _parts(scheme: Scheme, known: Plan, prompts: Prompts) -> Iterator[Part]:
    held: set[Fact] = set()
    for test in known.tests:

        def words(line: Line, test: TestId = test.id) -> Part:
            return Part("words", test, prompts.spoken(line).rstrip("."))

        for fact in (fact for step in test.steps for fact in step.needs):
            for one in _missing(fact, known, held):
                yield Part("deed", test.id, known.gates[one].prompt.removeprefix("ask."), _REBUILT_PSI)
                yield words(Line(prompt=f"card.{one}"))
        yield words(Line(prompt="card.name", values={"test": test.id}))
        yield words(Line(prompt=f"card.do-{test.id}"))
        yield words(scheme.standard.limit_line(test.id, scheme.setup.vehicle, scheme.setup.unit))
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
