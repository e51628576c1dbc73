"""Free talk: which path of the free decode is taken."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.ears import freely
from assistant.ears.decoding import Path, Samples, Spoken
from assistant.ears.freely import FreeTalk
from assistant.ears.opinion import Opinion
from assistant.ears.spelling import Real
from tests.test_spelling import told_by

SILENCE = np.zeros(16_000, np.int16)


class Letters(Opinion):
    """Hears these letters whatever the sound; None: it has no opinion."""

    def __init__(self, told: Real | None) -> None:
        self._told = told

    def letters(self, sound: Samples) -> Real | None:
        del sound
        return self._told


def talk(monkeypatch: pytest.MonkeyPatch, found: dict[str, float], told: Real | None) -> FreeTalk:
    """The decoder finds these texts with these scores."""
    paths = tuple(
        Path(text, tuple(Spoken(word, 0, 1) for word in text.split()), score) for text, score in found.items()
    )

    class Decoder:
        def __init__(self, loaded: object, count: int) -> None:
            del loaded
            assert count >= len(paths)

        def accept(self, sound: Samples) -> bool:
            return not len(sound)

        def final(self) -> tuple[Path, ...]:
            return paths

    monkeypatch.setattr(freely, "load", lambda folder: folder)
    monkeypatch.setattr(freely, "VoskDecoder", Decoder)
    return FreeTalk("", Letters(told), STAND_INS)  # type: ignore[arg-type]


STAND_INS = {"chocked": ("chalked",), "unchocked": ("and chalked", "on chalked")}
CHALK, CHOCK = "chalk it", "chock it"


@pytest.mark.parametrize(
    ("found", "told", "text"),
    [
        ({CHALK: 0.0, CHOCK: -1.0}, told_by("-chock-it-"), CHOCK),
        ({CHALK: 0.0, CHOCK: -1.0}, told_by("-chalk-it-"), CHALK),
        ({CHALK: 0.0, CHOCK: -30.0}, told_by("-chock-it-"), CHALK),
        ({CHALK: 0.0, CHOCK: -1.0}, None, CHALK),
        ({"chalk-it [x]": 0.0, CHOCK: -1.0}, told_by("-chock-it-"), CHOCK),
        ({}, told_by("-chock-it-"), ""),
    ],
)
def test_the_letters_choose_between_the_paths_that_the_decoder_has_found(monkeypatch, found, told, text) -> None:
    heard = talk(monkeypatch, found, told).heard(SILENCE)
    assert heard.text == text
    assert " ".join(word.text for word in heard.words) == text


def test_a_word_that_the_model_lacks_is_written_where_it_is_spelled_as_another_one(monkeypatch) -> None:
    found = {"parked and chalked": 0.0, "parked and charged": -1.0}
    heard = talk(monkeypatch, found, told_by("-parked- and- chocked-")).heard(SILENCE)
    assert heard.text == "parked and chocked"
    assert [word.text for word in heard.words] == ["parked", "and", "chocked"]
