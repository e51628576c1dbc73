"""A trainee talks through the check unprompted and is marked on what was said."""

from assistant.review.recital.marking import Mark, Talk, mark
from assistant.review.recital.scheme import Element, Scheme, scheme_of

__all__ = ["Element", "Mark", "Scheme", "Talk", "mark", "scheme_of"]
