"""A trainee talks through the check unprompted and is marked on what was said."""

from assistant.review.recital.card import card
from assistant.review.recital.debrief import Debrief, barring, correction, debrief, element_line
from assistant.review.recital.flow import Recital, State
from assistant.review.recital.marking import Talk, mark
from assistant.review.recital.scheme import Element, Scheme, scheme_of

__all__ = [
    "Debrief",
    "Element",
    "Recital",
    "Scheme",
    "State",
    "Talk",
    "barring",
    "card",
    "correction",
    "debrief",
    "element_line",
    "mark",
    "scheme_of",
]
