"""What a session runs and a replay computes again: a dialogue or a recital.

Law: a flow is pure: (state, time, event) -> (state, effects). How it is done is the business of each.
"""

from __future__ import annotations

from typing import Protocol, TypeVar

from assistant.core.events import Begun, Effect, Event


class Going(Protocol):
    """What a flow remembers between two events, as far as the loop looks at it."""

    @property
    def mode(self) -> str:
        """ "closed": no more events are wanted."""

    @property
    def hold(self) -> object | None:
        """A timed hold that is running."""


S = TypeVar("S", bound=Going)


class Flow(Protocol[S]):
    """The dialogue of a check, or a recital."""

    def begin(self, event: Begun) -> tuple[S, tuple[Effect, ...]]:
        """The first state, and the opening words."""

    def reduce(self, state: S, at_ms: int, event: Event) -> tuple[S, tuple[Effect, ...]]:
        """Answer one event at `at_ms` of the check."""

    def finished(self, state: S) -> bool:
        """Whether it came to its end, so that the log can be sealed."""
