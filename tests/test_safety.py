"""Whatever is said, in whatever order, nothing unsafe is asked, nothing breaks, and the record recomputes."""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import given, settings
from hypothesis import strategies as st

from assistant import assets
from assistant.core.dialogue import State
from assistant.core.events import EFFECTS, EVENTS, Device, Due, Effect, Heard, Resumed, Say
from assistant.ears import grammar
from tests.test_plan import MOVING, RELEASING
from tests.walk import ROLLING, WHOLE, Walk

EXAMPLES = grammar.examples(assets.grammars())
PHRASES = st.one_of(
    st.sampled_from(EXAMPLES),
    st.sampled_from(WHOLE).filter(lambda phrase: not phrase.startswith("+")),
    st.sampled_from(["yes", "no", "done", "stop", "continue", "go back", "cancel", "what's for lunch", "two hundred"]),
)
EVENT = st.one_of(
    PHRASES.map(lambda text: ("say", text)),
    st.sampled_from([("wait", 5), ("wait", 61), ("wait", 200)]),
    st.sampled_from(
        [
            ("event", Device(device="microphone", state="lost")),
            ("event", Device(device="microphone", state="back")),
            ("event", Resumed()),
            ("event", Due(timer="hold/static-leakage/1")),
        ]
    ),
)
STARTS = st.integers(min_value=0, max_value=len(ROLLING))


def _walk(start: int, steps: list[tuple[str, object]]) -> Walk:
    walk = Walk(*ROLLING[:start])
    for what, value in steps:
        if what == "say":
            walk.wait(2)
            walk.feed(Heard(text=str(value), start_ms=walk.now, end_ms=walk.now, by="typed"))
        elif what == "wait":
            walk.wait(float(str(value)))
        else:
            walk.feed(value)
    return walk


@settings(max_examples=150, deadline=None)
@given(start=STARTS, steps=st.lists(EVENT, max_size=25))
def test_brakes_are_never_released_and_nothing_moves_before_the_preconditions(start, steps) -> None:
    for state, effects in _replayed(_walk(start, steps)):
        prompts = {line.prompt for effect in effects if isinstance(effect, Say) for line in effect.lines}
        if prompts & MOVING:
            assert {"rebuilt", "chocks-out", "way-clear"} <= state.facts
        if prompts & (RELEASING - MOVING):
            assert {"chocked", "clear"} <= state.facts


def _replayed(walk: Walk) -> Iterator[tuple[State, tuple[Effect, ...]]]:
    """The events of a walk, written out and read in, once more through the reducer: the effects come out the same."""
    state = None
    for at_ms, event, effects in walk.events:
        read = EVENTS.validate_json(event.model_dump_json())
        state, again = walk.dialogue.reduce(state, at_ms, read) if state else walk.dialogue.begin(read)
        assert again == effects
        assert EFFECTS.validate_json(EFFECTS.dump_json(again)) == again
        yield state, again
