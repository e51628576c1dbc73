"""The reducer: reduce(state, time, event) -> (state, effects). All flow, and only flow.

Law: pure and total: the same events give the same effects, so a log can be recomputed. A timer that nobody waits for
is ignored. Any interruption ends a running hold, and whatever the driver confirmed before is asked again.
"""

from assistant.core.dialogue.reducer import Dialogue
from assistant.core.dialogue.state import State

__all__ = ["Dialogue", "State"]
