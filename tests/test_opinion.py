"""The second opinion: what it makes of sentences for a sound, and what happens without it."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from assistant.cli import build
from assistant.ears import grammar, opinion, strict
from assistant.ears.opinion import FILES, SHORTEST, Opinion, damage, pieces_of
from assistant.ears.recogniser import Recogniser
from assistant.ears.recording import Recording

FOLDER = Path(__file__).resolve().parent.parent / "audio_fixtures" / "human"
MANIFEST = tomllib.loads((FOLDER / "manifest.toml").read_text(encoding="utf-8"))["sound"]


@pytest.fixture(scope="session")
def second(speech_model: Path) -> Opinion:  # noqa: ARG001 (it fetches the files)
    found = opinion.ready()
    assert found is not None
    return found


def sound(name: str) -> np.ndarray:
    return np.concatenate(list(Recording(FOLDER / name).blocks()))


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
    scores = second.scores(sound(file), [text, *others])
    assert scores is not None
    assert scores[0] > max(scores[1:])
    assert all(score < 0 for score in scores)


def test_a_sentence_is_as_likely_in_any_company(second) -> None:
    """The network is kept in whole numbers of eight bits, whose steps depend on all that is computed at once."""
    spoken = sound("ninety-two.flac")
    (alone,) = second.scores(spoken, ["ninety two"]) or []
    both = second.scores(spoken, ["ninety two", "the gauge says one hundred and twenty seven"]) or []
    assert both[0] == pytest.approx(alone, abs=1.0)


@pytest.mark.parametrize("seconds", [0.3, 1.0, 5.0, 9.0, 12.0, 20.0])
def test_an_utterance_may_be_of_any_length(second, seconds) -> None:
    noise = np.random.default_rng(1).normal(0, 300, int(seconds * 16_000)).astype(np.int16)
    scores = second.scores(noise, ["ninety two", "primary one eighteen secondary one sixteen"]) or []
    assert len(scores) == 2
    assert all(np.isfinite(scores))


def test_of_a_sound_that_is_too_short_it_has_no_opinion(second) -> None:
    assert second.scores(np.zeros(SHORTEST - 1, np.int16), ["five"]) is None
    assert second.scores(np.zeros(SHORTEST, np.int16), []) is None
    assert second.scores(np.zeros(SHORTEST, np.int16), ["five"]) is not None


def test_text_is_cut_by_merging_the_pair_with_the_lowest_number_first() -> None:
    """The worked example of Sennrich et al. 2016, figure 1: e s, es t, l o, lo w are merged in this order."""
    merges = ["es", "est", "lo", "low"]
    letters = sorted(set("\u2581lowest"))
    pieces = {piece.encode(): number for number, piece in enumerate([*merges, *letters])}
    assert pieces_of("lowest", pieces) == [pieces["\u2581".encode()], pieces[b"low"], pieces[b"est"]]


@pytest.mark.usefixtures("speech_model")
def test_what_is_wrong_with_its_files_is_named(tmp_path) -> None:
    folder = tmp_path / "second"
    assert "is missing" in str(damage(folder))
    shutil.copytree(opinion.home(), folder)
    assert damage(folder) is None
    for name in FILES:
        whole = (folder / name).read_bytes()
        (folder / name).write_bytes(whole[:-1])
        assert name in str(damage(folder))
        (folder / name).write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
        assert damage(folder) is None
        assert name in str(damage(folder, thorough=True))
        (folder / name).write_bytes(whole)


def test_a_network_that_does_not_run_has_no_opinion(tmp_path) -> None:
    for name in FILES:
        (tmp_path / name).write_bytes(b"spoilt")
    assert Opinion(tmp_path).scores(np.zeros(SHORTEST, np.int16), ["five"]) is None


class Counted(Opinion):
    """Takes short texts for likelier, and counts how often it is asked."""

    def __init__(self) -> None:
        self.times = 0

    def scores(self, sound: np.ndarray, texts: Sequence[str]) -> list[float]:
        del sound
        self.times += 1
        return [-float(len(text)) for text in texts]


def test_it_is_asked_while_the_silence_is_waited_out_and_not_again_at_its_end(speech_model) -> None:
    counted = Counted()
    strict_folder = strict.prepare(speech_model, build.language(), grammar.compile_acceptor)
    ears = Recogniser(strict_folder, stand=build.language().stand, opinion=counted)
    spoken = np.concatenate([np.zeros(8000, np.int16), sound("four-six.flac"), np.zeros(16000, np.int16)])
    asked_at, heard_at, heard = [], 0, []
    for at in range(0, len(spoken), 800):
        before = counted.times
        heard = ears.feed(spoken[at : at + 800])
        asked_at += [at] * (counted.times - before)
        if heard:
            heard_at = at
            break
    assert [one.text for one in heard] == ["four six"]
    assert heard[0].rivals[0].behind_second == len(heard[0].rivals[0].text) - len("four six")
    assert len(asked_at) == 1
    assert asked_at[0] < heard_at


@pytest.mark.usefixtures("second")
def test_rivals_are_weighed_where_there_is_a_second_opinion(speech_model, recogniser) -> None:
    """The same sound with and without it: the same words, and the rivals with and without its judgement."""
    strict_folder = strict.prepare(speech_model, build.language(), grammar.compile_acceptor)
    alone = Recogniser(strict_folder, stand=build.language().stand)
    spoken = np.concatenate([np.zeros(8000, np.int16), sound("four-six.flac"), np.zeros(16000, np.int16)])
    (with_it,) = recogniser.feed(spoken) + recogniser.finish()
    (without,) = alone.feed(spoken) + alone.finish()
    assert with_it.text == without.text
    expected = [pytest.approx(rival.behind, abs=0.5) for rival in without.rivals]  # the decoder adds a little noise
    assert [rival.behind for rival in with_it.rivals] == expected
    assert with_it.rivals
    assert with_it.rivals[0].behind_second is not None
    assert all(rival.behind_second is None for rival in without.rivals)


def test_the_words_go_on_where_there_is_none(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(opinion, "home", lambda: tmp_path)
    opinion.ready.cache_clear()
    assert opinion.ready() is None
    opinion.ready.cache_clear()
