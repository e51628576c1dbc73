"""Free talk: which path of the free decode is taken."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from assistant.ears import freely
from assistant.ears.decoding import Path, Samples, Spoken
from assistant.ears.expecting import ExpectedWays
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
    """The decoder finds these texts with these scores, each word 100 samples after the one before."""
    paths = tuple(
        Path(text, tuple(Spoken(word, 100 * at, 100 * at + 90) for at, word in enumerate(text.split())), score)
        for text, score in found.items()
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
    ways = ExpectedWays(Awaited(), STAND_INS)  # type: ignore[arg-type]
    return FreeTalk("", Letters(told), ways, STAND_INS)  # type: ignore[arg-type]


class Awaited:
    """Any of these words may follow any other; "never" seldom."""

    def __init__(self) -> None:
        words = ("the", "knob", "pops", "stops", "out", "chalked", "p", "s", "i", "never", "90")
        self.numbers = {word: at for at, word in enumerate(words, 1)}
        self.alone = {number: 30.0 if word == "never" else 2.0 for word, number in self.numbers.items()}

    def after(self, state: int, words: Sequence[int]) -> tuple[float, int]:
        return sum(self.alone[word] for word in words), state


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


@pytest.mark.parametrize(
    ("path", "letters", "words"),
    {
        "a word that the letters are far from": (
            "the knob stops out", "-the- knob- pops- out-", [("the", 0), ("knob", 100), ("pops", 200), ("out", 300)],
        ),
        "one more": ("the pops out", "-the- knob- pops- out-", [("the", 0), ("knob", 90), ("pops", 100), ("out", 200)]),
        "one less": ("the knob the pops", "-the- knob- pops-", [("the", 0), ("knob", 100), ("pops", 300)]),
        "the first": ("knob pops", "-the- knob- pops-", [("the", 0), ("knob", 0), ("pops", 100)]),
        "the last": ("knob pops", "-knob- pops- out-", [("knob", 0), ("pops", 100), ("out", 190)]),
        "two for one": ("the out", "-knob- pops- out-", [("knob", 0), ("pops", 45), ("out", 100)]),
        "a word that the model lacks": ("the knob pops", "-the- chocked-", [("the", 0), ("chocked", 100)]),
        "a unit": ("the knob pops", "-the- psi-", [("the", 0), ("psi", 100)]),
        "what nobody expects": ("the knob stops", "-the- knob- never-", [("the", 0), ("knob", 100), ("stops", 200)]),
        "what is near": ("the knob stops", "-the- knob- stobs-", [("the", 0), ("knob", 100), ("stops", 200)]),
    }.values(),
)  # fmt: skip
def test_words_are_found_in_the_letters_where_these_are_far_from_the_path(monkeypatch, path, letters, words) -> None:
    heard = talk(monkeypatch, {path: 0.0}, told_by(letters)).heard(SILENCE)
    assert heard.text == " ".join(word for word, _ in words)
    assert [(word.text, word.start) for word in heard.words] == words
    assert all(word.start <= word.end for word in heard.words)
