"""Where an utterance ends, with a decoder that knows what is spoken when: no model is needed."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.ears.activity import Activity
from assistant.ears.decoding import Path, Spoken, Utterance
from assistant.ears.ending import may_be_joined, wait_by
from assistant.ears.loudness import Loudness
from assistant.ears.utterance import IDLE, Utterances
from tests.walk import language

RATE = 16_000
WORD = RATE // 5  # every word lasts 200 ms
WAIT = wait_by(language().stand)
LAG = 4_000  # the partial text of a decoder comes 250 ms late


class Marked:
    """A decoder for sound in which the samples themselves say which word is spoken: word n has the loudness
    2000 + 100 n at its first sample."""

    made = 0
    at_once = 0  # the most samples that one decoder held

    def __init__(self, words: list[str], ends_itself: bool = False) -> None:
        self._words = words
        self._sound: NDArray[np.int16] = np.zeros(0, np.int16)
        self._ends_itself = ends_itself
        Marked.made += 1

    def accept(self, sound: NDArray[np.int16]) -> bool:
        self._sound = np.concatenate([self._sound, sound])
        Marked.at_once = max(Marked.at_once, len(self._sound))
        return self._ends_itself and bool(self._found(len(self._sound))) and not np.abs(self._sound[-RATE:]).any()

    def partial(self) -> str:
        return " ".join(word.text for word in self._found(len(self._sound) - LAG))

    def final(self) -> tuple[Path, ...]:
        words = self._found(len(self._sound))
        return (Path(" ".join(word.text for word in words), words, 0.0),) if words else ()

    def _found(self, until: int) -> tuple[Spoken, ...]:
        starts = [at for at in np.flatnonzero(self._sound >= 30_000) if at < until]
        return tuple(Spoken(self._words[int(self._sound[at]) - 30_000], int(at), int(at) + WORD) for at in starts)


def sound_of(*parts: str | float, noise: float = 10, voice: float = 3000) -> tuple[NDArray[np.int16], list[str]]:
    """Words (text) and pauses (seconds) as sound with marks in it, and the words."""
    rng, words, pieces = np.random.default_rng(5), [], []
    for part in parts:
        if isinstance(part, str):
            for word in part.split():
                piece = rng.normal(0, voice, WORD).clip(-20_000, 20_000)
                piece[0] = 30_000 + len(words)
                words.append(word)
                pieces.append(piece)
        else:
            pieces.append(rng.normal(0, noise, int(part * RATE)))
    return np.concatenate(pieces).astype(np.int16), words


def cut(*parts: str | float, block: int = 800, **how: float) -> tuple[list[str], list[int], list[Utterance]]:
    """Texts, the samples after which each was given, and the utterances themselves."""
    sound, words = sound_of(*parts, **how)
    utterances, found, given = Utterances(lambda: Marked(words), WAIT), [], []
    for at in range(0, len(sound), block):
        for one in utterances.feed(sound[at : at + block]):
            found.append(one)
            given.append(at + block)
    found += (rest := utterances.finish())
    given += [len(sound)] * len(rest)
    return [one.paths[0].text for one in found], given, found


@pytest.mark.parametrize("pause", [0.1, 0.3, 0.45, 0.6, 0.7])
@pytest.mark.parametrize(
    "halves",
    [
        ("primary is at", "one hundred and twenty"),
        ("one hundred", "and twenty five"),
        ("eighty", "four"),
        ("eight", "four"),
        ("primary one eighteen", "secondary one sixteen"),
        ("primary nine nine secondary", "eight zero"),
        ("ninety two correction", "eighty two"),
    ],
    ids=lambda halves: " ... ".join(halves),
)
def test_a_pause_inside_a_reading_does_not_cut_it(halves, pause) -> None:
    first, second = halves
    texts, _, _ = cut(1.0, first, pause, second, 3.0)
    assert texts == [f"{first} {second}"]


def joined(*parts: str | float) -> tuple[Utterances, list[Utterance]]:
    sound, words = sound_of(*parts)
    wait = wait_by(language().stand, lambda: True)
    utterances = Utterances(lambda: Marked(words), wait, joins=may_be_joined)
    return utterances, [one for at in range(0, len(sound), 800) for one in utterances.feed(sound[at : at + 800])]


@pytest.mark.parametrize("pause", [0.55, 0.7, 0.9])
def test_a_figure_that_comes_after_the_answer_has_begun_is_joined_to_its_number(pause) -> None:
    _, (first, second) = joined(1.0, "one eighty", pause, "four", 3.0)
    assert [one.paths[0].text for one in (first, second)] == ["one eighty", "one eighty four"]
    assert (first.given, second.given) == (0, len(first.sound))
    assert second.start == first.start
    assert [word.start for word in second.paths[0].words] == [RATE, RATE + WORD, RATE + 2 * WORD + int(pause * RATE)]


@pytest.mark.parametrize(
    ("first", "pause", "second"),
    [("eighty", 1.6, "four"), ("eighty four", 0.6, "psi"), ("yes", 0.6, "four")],
)
def test_what_comes_later_or_follows_what_is_whole_stands_alone(first, pause, second) -> None:
    _, found = joined(1.0, first, pause, second, 3.0)
    assert [(one.paths[0].text, one.given) for one in found] == [(first, 0), (second, 0)]


def test_what_does_not_go_on_can_be_taken_by_itself() -> None:
    utterances, (first, both) = joined(1.0, "eighty", 0.7, "stop", 3.0)
    assert both.paths[0].text == "eighty stop"
    alone = utterances.without_given(both)
    assert alone is not None
    assert alone.paths[0].text == "stop"
    assert alone.start == first.start + len(first.sound)


def test_what_is_complete_is_given_within_half_a_second() -> None:
    texts, given, _ = cut(1.0, "eighty four", 3.0)
    ends = RATE + 2 * WORD
    assert texts == ["eighty four"]
    assert 0.3 * RATE <= given[0] - ends <= 0.5 * RATE


def ahead_of(*parts: str | float) -> tuple[list[str], list[str]]:
    """What was looked at ahead, and what was given."""
    sound, words = sound_of(*parts)
    ahead: list[str] = []

    def look(utterance: Utterance) -> str:
        ahead.append(utterance.paths[0].text)
        return ahead[-1]

    utterances = Utterances(lambda: Marked(words), WAIT, look)
    given = [one for at in range(0, len(sound), 800) for one in utterances.feed(sound[at : at + 800])]
    return ahead, [one.paths[0].text for one in given]


@pytest.mark.parametrize(
    ("heard", "meant", "lowest", "highest"),
    [("help me", "one hundred", 0.8, 1.0), ("one hundred", "help me", 0.3, 0.5), ("all", "four", 0.8, 1.0)],
)
def test_the_text_that_the_look_ahead_takes_for_meant_says_how_long_to_wait(heard, meant, lowest, highest) -> None:
    sound, words = sound_of(1.0, heard, 3.0)
    utterances = Utterances(lambda: Marked(words), WAIT, lambda _: meant)
    ends = RATE + len(words) * WORD
    given = [at + 800 for at in range(0, len(sound), 800) if utterances.feed(sound[at : at + 800])]
    assert len(given) == 1
    assert lowest * RATE <= given[0] - ends <= highest * RATE


def test_what_is_complete_is_looked_at_once_while_its_silence_is_waited_out() -> None:
    assert ahead_of(1.0, "eighty four", 3.0) == (["eighty four"], ["eighty four"])
    assert ahead_of(1.0, "eighty four", 0.25) == (["eighty four"], [])


def test_what_goes_on_after_a_look_ahead_is_looked_at_again_and_given_whole() -> None:
    assert ahead_of(1.0, "eighty four", 0.25, "on the primary", 3.0)[1] == ["eighty four on the primary"]
    assert ahead_of(1.0, "needle stopped", 0.25, "at ninety two", 3.0)[0] == [
        "needle stopped",
        "needle stopped at ninety two",
    ]


@pytest.mark.parametrize(("noise", "times"), [(10, 1), (600, 2)])
def test_what_stands_out_of_the_noise_is_decoded_once(noise, times) -> None:
    before = Marked.made
    assert cut(1.0, "one hundred", 1.2, noise=noise)[0] == ["one hundred"]
    waiting = 2  # made for what might have come: after the end, and when the sound was over
    assert Marked.made - before - waiting == times


@pytest.mark.parametrize(("noise", "given"), [(10, ["one hundred"]), (600, ["one hundred four"])])
def test_in_noise_a_voice_that_is_too_weak_to_be_noticed_may_go_on(noise, given) -> None:
    sound, words = sound_of(1.0, "one hundred", 0.4, "four", 3.0, noise=noise)
    weak = slice(RATE + 2 * WORD + int(0.4 * RATE) + 1, RATE + 3 * WORD + int(0.4 * RATE))
    sound[weak] = sound[weak] // (3000 // noise)
    utterances = Utterances(lambda: Marked(words), WAIT)
    found = [one for at in range(0, len(sound), 800) for one in utterances.feed(sound[at : at + 800])]
    assert [one.paths[0].text for one in found][:1] == given


def test_what_may_go_on_is_given_within_a_second() -> None:
    texts, given, _ = cut(1.0, "one hundred", 3.0)
    assert texts == ["one hundred"]
    assert 0.8 * RATE <= given[0] - (RATE + 2 * WORD) <= RATE


def test_a_long_pause_makes_two_utterances_with_their_own_times() -> None:
    texts, _, found = cut(1.0, "eighty four", 2.0, "yes", 2.0)
    assert texts == ["eighty four", "yes"]
    begins = [one.start + one.paths[0].words[0].start for one in found]
    assert begins == [RATE, RATE + 2 * WORD + 2 * RATE]


@pytest.mark.parametrize("block", [160, 799, 5000, 200_000])
def test_the_size_of_the_blocks_does_not_matter(block) -> None:
    parts = (1.0, "primary one eighteen", 0.5, "secondary one sixteen", 2.0, "needle stopped", 1.5)
    assert cut(*parts, block=block)[0] == cut(*parts)[0]


def test_the_end_of_the_sound_ends_the_utterance() -> None:
    assert cut(0.5, "primary is at one hundred")[0] == ["primary is at one hundred"]


def test_a_click_is_no_utterance() -> None:
    sound, words = sound_of(4.0)
    sound[20_000:20_100] = 15_000
    utterances = Utterances(lambda: Marked(words), WAIT)
    assert utterances.feed(sound) + utterances.finish() == []


def test_a_long_silence_does_not_pile_up() -> None:
    Marked.at_once = 0
    texts, _, _ = cut(30.0, "eighty four", 30.0)
    assert texts == ["eighty four"]
    assert Marked.at_once <= IDLE + RATE


def test_where_noise_hides_the_silence_the_decoder_ends_the_utterance() -> None:
    sound, words = sound_of(1.0, "one hundred", 4.0, voice=10)  # no louder than the noise
    sound[RATE + 2 * WORD :] = 0
    utterances = Utterances(lambda: Marked(words, ends_itself=True), WAIT)
    found = [one.paths[0].text for at in range(0, len(sound), 800) for one in utterances.feed(sound[at : at + 800])]
    assert found == ["one hundred"]


def test_times_go_on_after_a_hole() -> None:
    sound, words = sound_of(0.5, "yes", 2.0)
    utterances = Utterances(lambda: Marked(words), WAIT)
    utterances.feed(sound)
    utterances.finish()
    utterances.skip(3 * RATE)
    (second,) = utterances.feed(sound) + utterances.finish()
    assert second.start + second.paths[0].words[0].start == len(sound) + 3 * RATE + RATE // 2


def test_activity_follows_the_noise_and_does_not_learn_from_a_muted_microphone() -> None:
    rng, activity = np.random.default_rng(1), Activity()
    activity.feed(rng.normal(0, 300, 5 * RATE).astype(np.int16))
    activity.feed(np.zeros(5 * RATE, np.int16))
    activity.feed(rng.normal(0, 300, 2 * RATE).astype(np.int16))
    assert activity.loud_until is None
    activity.feed(rng.normal(0, 3000, RATE // 2).astype(np.int16))
    activity.feed(rng.normal(0, 300, RATE).astype(np.int16))
    assert activity.quiet_for() == pytest.approx(RATE, abs=640)


def test_a_long_reading_stands_out_of_the_silence_after_it_and_not_of_itself() -> None:
    rng, activity = np.random.default_rng(2), Activity()
    spoken = rng.normal(0, 3000, 4 * RATE) * np.repeat(np.resize([1.0, 0.1], 40), RATE // 10)  # its weak sounds: -20 dB
    for sound in (rng.normal(0, 10, RATE), spoken, rng.normal(0, 10, RATE // 5)):
        activity.feed(sound.astype(np.int16))
    assert activity.stands_out_db() > 40


@pytest.mark.parametrize("ratio_db", [0, 5, 10, 20, 40])
def test_level_and_ratio_are_those_of_the_speech_without_the_noise_under_it(ratio_db) -> None:
    rng, loudness = np.random.default_rng(4), Loudness()
    sound = rng.normal(0, 1000 / 10 ** (ratio_db / 20), 6 * RATE)
    sound[3 * RATE : 4 * RATE] += rng.normal(0, 1000, RATE)
    loudness.feed(sound.round().astype(np.int16))
    level, ratio, _ = loudness.of([(3 * RATE, 4 * RATE)])
    assert level == pytest.approx(20 * np.log10(1000 / 32768), abs=1)
    assert ratio == pytest.approx(ratio_db, abs=1.5)


def test_without_a_pause_around_it_no_ratio_is_told() -> None:
    loudness = Loudness()
    loudness.feed(np.random.default_rng(6).normal(0, 1000, RATE).astype(np.int16))
    level, ratio, _ = loudness.of([(0, RATE)])
    assert level is not None
    assert ratio is None
    assert loudness.of([(5 * RATE, 6 * RATE)]) == (None, None, 0.0)
