"""Fixtures that several test files share."""

from __future__ import annotations

import os

# Before numpy is there. Several processes with threads of their own for each product of matrices wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from pathlib import Path

import pytest
from card import card, card_of_the_session

from assistant.cli import build
from assistant.core.trouble import Trouble
from assistant.ears import fetch, model
from assistant.ears.recogniser import Recogniser

__all__ = ["card", "card_of_the_session", "recogniser", "speech_model"]


@pytest.fixture(scope="session")
def speech_model() -> Path:
    """The speech model of this machine, fetched when it is not there; without a network the test is skipped."""
    try:
        if not model.home().exists():
            fetch.fetch()
        return model.find()
    except Trouble as trouble:
        pytest.skip(f"no speech model: {trouble}")


@pytest.fixture
def recogniser(speech_model: Path) -> Recogniser:
    """Fresh ears; the model behind them is loaded once."""
    return build.recogniser(speech_model)
