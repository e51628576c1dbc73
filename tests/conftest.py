"""Fixtures that several test files share."""

from card import card, card_of_the_session

__all__ = ["card", "card_of_the_session"]
