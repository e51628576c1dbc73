"""How long to wait in silence after a text before it counts as ended.

Law: nobody is cut off inside a number. A number that may go on ("one hundred", "eighty", "eight four") gets the pause
that a person makes who reads a gauge; a phrase that breaks off ("ninety two, correction") gets longer; only what is
complete in every way is answered at once. A number in tens ("eighty") may be answered sooner where the driver is heard
while the assistant speaks: a figure that comes late is then joined to it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.core.events import Unit
from assistant.core.language import Stand
from assistant.core.numbers import may_go_on

RATE_HZ = 16_000
WHOLE_AFTER = RATE_HZ * 300 // 1000
OPEN_AFTER = RATE_HZ * 800 // 1000
TENS_AFTER = RATE_HZ * 400 // 1000
"""For a number in tens where what comes late is joined, so that it need not be the longest pause of who speaks on; no
published figure is known. With 450 ms one answer in twenty took more than 0.7 s."""
BROKEN_OFF_AFTER = RATE_HZ * 1600 // 1000
_NEEDLES = frozenset({"primary", "secondary"})
_TENS = frozenset({"hundred", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"})

Wait = Callable[[str], int]
"""Samples of silence to wait after a text."""


def wait_by(
    stand: Callable[[Sequence[str]], Stand], joining: Callable[[], bool] = lambda: False, unit: Unit | None = None
) -> Wait:
    """The rule for a language. `stand`: whether words are complete, and whether they can go on. `joining`: whether what
    comes late can be joined. `unit`: of the gauge, None = any."""

    @cache_last
    def wait(text: str) -> int:
        words = tuple(text.split())
        if not words:
            return OPEN_AFTER
        here = stand(words)
        if here.complete and not other_needle_may_follow(words):
            if not may_go_on(words, unit):
                return WHOLE_AFTER
            if may_be_joined(text, unit):
                return TENS_AFTER
        return BROKEN_OFF_AFTER if here.open and not here.complete else OPEN_AFTER

    return lambda text: OPEN_AFTER if (found := wait(text)) == TENS_AFTER and not joining() else found


def may_be_joined(text: str, unit: Unit | None = None) -> bool:
    """Whether a figure that comes late still belongs to this text; `unit`: of the gauge, None = any."""
    words = tuple(text.split())
    return bool(words) and words[-1] in _TENS and may_go_on(words, unit)


def always_open(_text: str) -> int:
    """The rule without a language."""
    return OPEN_AFTER


def cache_last(wait: Wait) -> Wait:
    """Asked again and again about the same text, `wait` works once."""
    known: dict[str, int] = {}

    def remembered(text: str) -> int:
        if text not in known:
            known.clear()
            known[text] = wait(text)
        return known[text]

    return remembered


def other_needle_may_follow(words: tuple[str, ...]) -> bool:
    """Whether one needle was named and not the other, or the last word names one ("one eighteen secondary" may go on
    with a number): who reads a gauge aloud draws breath there."""
    return len(_NEEDLES.intersection(words)) == 1 or words[-1] in _NEEDLES
