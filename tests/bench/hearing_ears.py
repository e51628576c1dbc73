"""The ears that are compared on the same sound: ours, and what else there is to recognise a reading with.

Each takes 16 kHz sound and gives Found. The baselines have no rule of doubt: whatever number they hear is taken.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

import vosk

from assistant.cli import build
from assistant.core.events import Heard
from assistant.core.hearing import Understood, understand
from assistant.core.numbers import value_of
from assistant.ears import grammar, model, strict
from assistant.ears.recogniser import Recogniser
from tests.bench import sounds
from tests.bench.hearing_speech import usual_spellings
from tests.bench.hearing_texts import CARRIERS
from tests.bench.sounds import Sound


@dataclass(frozen=True)
class Found:
    """`kind`: "reading" with its values, "taken back", "moment" with its time in seconds, "other" (a report, an answer,
    a command), "asked" or "ignored". `heard`: our utterances, for looking at the rule afterwards."""

    kind: str
    values: tuple[float, ...] = ()
    moment_s: float | None = None
    heard: tuple[Heard, ...] = ()


Ear = Callable[[Sound], Found]


def ours(front_end: bool = True, second: bool = True) -> Ear:
    """The ears of the product, made anew for each utterance; the model is loaded once."""
    language = build.language()
    folder = strict.prepare(model.find(), language, grammar.compile_acceptor)

    def hear(sound: Sound) -> Found:
        both = build.weighing() if second else None
        ears = Recogniser(folder, stand=language.stand, front_end=front_end, weighing=both, unit="psi")
        return meaning(tuple(sounds.hear(ears, sound)))

    return hear


def meaning(heard: tuple[Heard, ...]) -> Found:
    """All utterances of one sound as one, as a session takes them: a correction replaces what was said before."""
    meant = [understand(one, build.language(), "psi") for one in heard]
    values: tuple[float, ...] = ()
    for one in meant:
        values = (() if one.correction or one.takes_back else values) + tuple(read.value for read in one.readings)
    moment = next((one.moment_ms for one in meant if one.moment_ms is not None), None)
    return Found(_kind(values, meant), values, None if moment is None else moment / 1000, heard)


def _kind(values: tuple[float, ...], meant: list[Understood]) -> str:
    if values:
        return "reading"
    if any(one.takes_back for one in meant):
        return "taken back"
    if any({"start", "mark"} & set(one.reports) for one in meant):
        return "moment"
    if any(one.kind != "unclear" for one in meant):
        return "other"
    return "asked" if any(one.why != "talk" for one in meant) else "ignored"


def phrase_list() -> Ear:
    """A list of all numbers and a word for the unknown, as the documentation of vosk shows it."""
    return _listed([*usual_spellings(), "[unk]"])


def sentence_list() -> Ear:
    """A list of whole sentences: every number in every carrier."""
    carriers = dict.fromkeys(CARRIERS)
    return _listed([*(carrier.format(words) for carrier in carriers for words in usual_spellings()), "[unk]"])


def open_vocabulary() -> Ear:
    """All words of the model, the numbers parsed out."""
    return _listed(None)


@cache
def _loaded() -> Any:
    vosk.SetLogLevel(-1)
    return vosk.Model(str(model.find()))


def _listed(phrases: list[str] | None) -> Ear:
    arguments: tuple[Any, ...] = () if phrases is None else (json.dumps(phrases),)
    loaded = _loaded()

    def hear(sound: Sound) -> Found:
        recogniser = vosk.KaldiRecognizer(loaded, sounds.RATE, *arguments)
        recogniser.AcceptWaveform(sounds.int16(sound).tobytes())
        return _parsed(json.loads(recogniser.FinalResult())["text"].split())

    return hear


def pocketsphinx_jsgf() -> Ear:
    """The readings of our language, with the carriers, as JSGF through pocketsphinx and its own model. (All of our
    language takes it more than twice real time.)

    Raises ImportError where pocketsphinx is not installed.
    """
    import pocketsphinx

    decoder = pocketsphinx.Decoder(samprate=float(sounds.RATE), loglevel="FATAL")
    decoder.add_jsgf_string("readings", _jsgf())
    decoder.activate_search("readings")

    def hear(sound: Sound) -> Found:
        decoder.start_utt()
        decoder.process_raw(sounds.int16(sound).tobytes(), full_utt=True)
        decoder.end_utt()
        hypothesis = decoder.hyp()
        return _parsed(hypothesis.hypstr.split() if hypothesis else [])

    return hear


_DIGIT = "(one | two | three | four | five | six | seven | eight | nine)"
_TEEN = "(ten | eleven | twelve | thirteen | fourteen | fifteen | sixteen | seventeen | eighteen | nineteen)"
_TENS = "(twenty | thirty | forty | fifty | sixty | seventy | eighty | ninety)"


def _jsgf() -> str:
    """The carriers around the numbers, each rule named as seldom as can be, or the search does not keep up. "Psi" is
    not in the dictionary, its letters are."""
    pairs = {tuple(carrier.replace("psi", "p s i").split("{}")) for carrier in CARRIERS}
    before, after = (" | ".join(sorted({pair[side].strip() for pair in pairs} - {""})) for side in (0, 1))
    return f"""#JSGF V1.0;
grammar readings;
<number> = [one | a] hundred [[and] <below>] | [one] <group> | [one | zero] {_DIGIT} [zero | oh | {_DIGIT}]
    | one (zero | oh) [zero | oh | {_DIGIT}] | zero;
<group> = {_TEEN} | {_TENS} [{_DIGIT}];
<below> = {_DIGIT} | <group>;
public <reading> = [{before}] <number> [{after}] [secondary <number>];
"""


def _parsed(words: list[str]) -> Found:
    values = tuple(_numbers_in([word for word in words if not word.startswith("[")]))
    return Found("reading", values) if values else Found("ignored")


def _numbers_in(words: list[str]) -> Iterator[float]:
    """The numbers in a text, each as long as it can be."""
    at = 0
    while at < len(words):
        for end in range(min(len(words), at + 8), at, -1):
            value = value_of(tuple(words[at:end]))
            if value is not None:
                yield value
                at = end
                break
        else:
            at += 1


EARS: dict[str, Callable[[], Ear]] = {
    "ours": ours,
    "no front end": partial(ours, front_end=False),
    "no second": partial(ours, second=False),
    "phrase list": phrase_list,
    "sentence list": sentence_list,
    "open": open_vocabulary,
    "pocketsphinx": pocketsphinx_jsgf,
}
