"""A trainee talks through the check unprompted and is marked on what was said."""

from assistant.review.recital.card import card
from assistant.review.recital.debrief import Debrief, debrief, element_line, faults, in_points, what_was_said
from assistant.review.recital.flow import Recital, State
from assistant.review.recital.learnt import FILE as LEARNT
from assistant.review.recital.marking import mark
from assistant.review.recital.scheme import Element, Scheme, scheme_of
from assistant.review.recital.sheet import Talk
from assistant.review.recital.wording import FILE as WORDINGS

MARKED_BY = {"wordings": WORDINGS, "learnt": LEARNT}
"""The files that decide what counts as said, by name."""

__all__ = [
    "MARKED_BY",
    "Debrief",
    "Element",
    "Recital",
    "Scheme",
    "State",
    "Talk",
    "card",
    "debrief",
    "element_line",
    "faults",
    "in_points",
    "mark",
    "scheme_of",
    "what_was_said",
]
