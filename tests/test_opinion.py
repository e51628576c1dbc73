"""The second opinion: what it makes of a sound, how it is weighed, and what happens without it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from assistant.cli import build
from assistant.core.doubt import UNLIKE_NATS
from assistant.ears import grammar, opinion, strict
from assistant.ears.decoding import Path as Way
from assistant.ears.decoding import Spoken, Utterance
from assistant.ears.opinion import LONGEST, SHORTEST, STEP, Opinion
from assistant.ears.recogniser import Recogniser
from assistant.ears.recording import Recording
from assistant.ears.speeds import THREE_MORE, TWO, WHOLE
from assistant.ears.spelling import LETTERS, Real, log_likelihoods
from assistant.ears.weighing import Weighing

FOLDER = Path(__file__).resolve().parent.parent / "audio_fixtures" / "human"
MANIFEST = tomllib.loads((FOLDER / "manifest.toml").read_text(encoding="utf-8"))["sound"]


@pytest.fixture(scope="session")
def second() -> Opinion:
    return opinion.ready()


def sound(name: str) -> np.ndarray:
    return np.concatenate(list(Recording(FOLDER / name).blocks()))


def letters(second: Opinion, spoken: np.ndarray) -> Real:
    told = second.letters(spoken)
    assert told is not None
    return told


@pytest.mark.parametrize(
    ("file", "others"),
    [
        ("thirty-three.flac", ["thirteen three", "thirty", "thirty two", "forty three", "eighty three"]),
        ("four-six.flac", ["forty six", "four", "five six", "fourteen", "four sixty"]),
        ("ninety-two.flac", ["nineteen two", "ninety", "ninety ten", "nine two", "twenty two"]),
        ("five-five.flac", ["nine five", "five nine", "five", "fifty five", "five four"]),
    ],
)
def test_what_a_person_said_is_likelier_than_what_sounds_alike(second, file, others) -> None:
    """Recordings and transcriptions: Debian's package pocketsphinx-testdata."""
    (text,) = (entry["text"] for entry in MANIFEST if entry["file"] == file)
    right, *wrong = log_likelihoods(letters(second, sound(file)), [text, *others])
    assert max(wrong) < right < 0


@pytest.mark.parametrize("seconds", [0.3, 1.0, 5.0, 10.0])
def test_an_utterance_may_be_of_any_usual_length(second, seconds) -> None:
    noise = np.random.default_rng(1).normal(0, 300, int(seconds * 16_000)).astype(np.int16)
    told = letters(second, noise)
    assert len(told) == pytest.approx(seconds * 16_000 / STEP, abs=3)
    assert np.exp(told).sum(axis=1) == pytest.approx(1.0, abs=1e-3)


def test_of_a_sound_that_is_too_short_or_too_long_it_has_no_opinion(second) -> None:
    assert second.letters(np.zeros(SHORTEST - 1, np.int16)) is None
    assert second.letters(np.zeros(SHORTEST, np.int16)) is not None
    assert second.letters(np.zeros(LONGEST + 1, np.int16)) is None


def test_a_network_that_does_not_run_has_no_opinion(tmp_path) -> None:
    spoilt = tmp_path / "spoilt.onnx"
    spoilt.write_bytes(b"spoilt")
    assert Opinion(spoilt).letters(np.zeros(SHORTEST, np.int16)) is None


class Spelling(Opinion):
    """Hears the letters of a text whatever the sound, and counts how often it is asked."""

    def __init__(self, text: str) -> None:
        self.times = 0
        self._told = np.full((2 * len(text) + 1, len(LETTERS) + 1), -12.0, np.float32)
        self._told[::2, 0] = 0.0
        for at, letter in enumerate(text):
            self._told[2 * at + 1, LETTERS.index(letter) + 1] = 0.0

    def letters(self, sound: np.ndarray) -> Real:
        del sound
        self.times += 1
        return self._told


def ears(folder: Path, second: Opinion | None) -> Recogniser:
    language = build.language()
    strict_folder = strict.prepare(folder, language, grammar.compile_acceptor)
    weighing = Weighing(second, language) if second else None
    return Recogniser(strict_folder, stand=language.stand, weighing=weighing)


def spoken(file: str) -> np.ndarray:
    return np.concatenate([np.zeros(8000, np.int16), sound(file), np.zeros(16000, np.int16)])


def test_it_is_asked_while_the_silence_is_waited_out_and_not_again_at_its_end(speech_model) -> None:
    counted = Spelling("four six")
    listening, samples = ears(speech_model, counted), spoken("four-six.flac")
    asked_at, heard_at, heard = [], 0, []
    for at in range(0, len(samples), 800):
        before = counted.times
        heard = listening.feed(samples[at : at + 800])
        asked_at += [at] * (counted.times - before)
        if heard:
            heard_at = at
            break
    assert [one.text for one in heard] == ["four six"]
    assert len(asked_at) == 1
    assert asked_at[0] < heard_at


@pytest.mark.parametrize(
    ("letters_heard", "text"),
    [
        ("four six", "four six"),
        ("forty six", "forty six"),  # a sentence that the recogniser has not found, or not as the best
        ("where is my coat", "four six"),  # talk is no sentence
    ],
)
def test_the_sentence_that_both_find_likeliest_is_heard(speech_model, letters_heard, text) -> None:
    listening = ears(speech_model, Spelling(letters_heard))
    (heard,) = listening.feed(spoken("four-six.flac")) + listening.finish()
    assert heard.text == text
    assert [word.text for word in heard.words] == text.split()
    assert heard.unlike is not None
    assert (heard.unlike > UNLIKE_NATS) == (letters_heard != text)
    assert text not in {rival.text for rival in heard.rivals}
    assert all(rival.behind_second is not None for rival in heard.rivals)


class Torn:
    """Hears one text in the sound as it is, and another one, of which it is surer, at every other speed."""

    def __init__(self, text: str, others: str, sureness: float = 1.0) -> None:
        self._first = Spelling(text).letters(np.zeros(0)) * sureness / 2
        self._others = Spelling(others).letters(np.zeros(0)) * sureness
        self.lengths: list[int] = []

    def letters(self, sound: np.ndarray) -> Real:
        self.lengths.append(len(sound))
        return self._others if len(self.lengths) > 1 else self._first


def test_all_hearings_count(speech_model) -> None:
    second = Torn("forty six", "four six")
    listening = ears(speech_model, second)
    (heard,) = listening.feed(spoken("four-six.flac")) + listening.finish()
    assert heard.text == "four six"
    (by_the_first,) = ears(speech_model, Spelling("forty six")).feed(spoken("four-six.flac"))
    assert by_the_first.text == "forty six"


def test_what_is_in_doubt_is_heard_more_often_and_what_is_clear_is_not(speech_model) -> None:
    how_often = {2.0: (WHOLE,), 0.4: TWO, 0.05: (*TWO, *THREE_MORE)}
    for sureness, lengths in how_often.items():
        second = Torn("four six", "four six", sureness)
        listening = ears(speech_model, second)
        assert listening.feed(spoken("four-six.flac")) + listening.finish()
        whole = second.lengths[0]
        assert [length / whole for length in second.lengths] == pytest.approx([n / WHOLE for n in lengths], abs=0.01)


def test_rivals_are_weighed_where_there_is_a_second_opinion(speech_model, recogniser) -> None:
    """The same sound with and without it: the same words, and the rivals with and without its judgement."""
    alone = ears(speech_model, None)
    (with_it,) = recogniser.feed(spoken("four-six.flac")) + recogniser.finish()
    (without,) = alone.feed(spoken("four-six.flac")) + alone.finish()
    assert with_it.text == without.text
    assert with_it.unlike is not None
    assert with_it.unlike < UNLIKE_NATS
    assert with_it.rivals
    assert all(rival.behind_second is not None for rival in with_it.rivals)
    assert without.unlike is None
    assert all(rival.behind_second is None for rival in without.rivals)


def test_the_words_go_on_where_it_does_not_run(speech_model, tmp_path) -> None:
    listening = ears(speech_model, Opinion(tmp_path / "no such file"))
    (heard,) = listening.feed(spoken("four-six.flac")) + listening.finish()
    assert heard.text == "four six"
    assert heard.unlike is None


def test_a_unit_that_is_spelled_is_what_the_second_opinion_writes_as_one_word() -> None:
    said = "four seven p s i"
    words = tuple(Spoken(word, 4_000 * at, 4_000 * at + 3_000, 0.0) for at, word in enumerate(said.split()))
    utterance = Utterance(0, (Way(said, words, 0.0),), np.zeros(20_000, np.int16), 16_000)
    weighed = Weighing(Spelling("four seven psi"), build.language()).weighed(utterance)
    assert weighed.best.words == words  # and not one word that lasts as long as three
    assert weighed.unlike is not None
    assert weighed.unlike < UNLIKE_NATS
