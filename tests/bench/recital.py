"""How well a talk-through is marked: `python -m tests.bench.recital --half final [--spoken [--noise diesel:10]]`.

Prints precision and recall of "said", wrong limits found, denials counted as said, broken orders found; with counts;
of spoken ones also how many words are wrong (inserted, left out or others).
Figures that are quoted come from the halves `final` and `many`, spoken by voices that nothing was learnt from or chosen
on; the others are for tuning and are learnt from.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rapidfuzz.distance import Levenshtein

from assistant import standards
from assistant.cab.spoken import noise_of
from assistant.cli import build
from assistant.core.events import Heard, Setup
from assistant.core.plan import plan
from assistant.ears import model
from assistant.review.recital import Scheme, Talk, debrief, learnt, mark, scheme_of
from assistant.review.recital.tokens import words_of_text
from tests.bench import hearing_speech, sounds
from tests.bench.recital_talks import TalkThrough, talk_through
from tests.bench.recital_writers import FINAL, TUNED_ON, corpus, unseen
from tests.bench.shares import share

PAUSE_S = 0.8
STATES = ("said", "missed", "wrong", "denied")


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--half", choices=(*TUNED_ON, *FINAL), default="development")
    parser.add_argument("--talks", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", type=int, help="so many tests of the check in each talk; default: all")
    parser.add_argument("--standard", default="common-practice")
    parser.add_argument("--spoken", action="store_true")
    parser.add_argument("--noise", help="name and dB below the speech, as diesel:10")
    parser.add_argument("--learnt", type=Path, default=learnt.FILE, help="a network of tests.bench.recital_learn --out")
    parser.add_argument("--unseen", action="store_true", help="without sentences that were also learnt from others")
    parser.add_argument("--errors", action="store_true", help="show what was marked otherwise")
    given = parser.parse_args()
    learnt.FILE = given.learnt
    scheme = scheme_for(given.standard)
    words = unseen(given.half) if given.unseen else corpus(given.half, given.seed)
    counts: Counter[str] = Counter()
    by_voice: dict[str, Counter[str]] = {}
    ears = _Ears(given.half, given.noise) if given.spoken else None
    for number in range(given.talks):
        rng = np.random.default_rng((given.seed, number))
        talk = talk_through(scheme, words, rng, given.tests)
        heard = ears.hear(talk, number, rng) if ears else typed(talk.sentences)
        marked = mark(scheme, heard)
        got = _states(marked)
        found = _count(talk, got)
        if ears:
            found.update(_words(talk, heard))
            by_voice.setdefault(ears.voice(number), Counter()).update(found)
        counts.update(found)
        if talk.swapped:
            told = debrief(scheme, marked)
            counts["orders"] += 1
            counts["orders found"] += (talk.swapped[1], talk.swapped[0]) in told.out_of_order
        if given.errors:
            _show(talk, marked, heard, got)
    _print(counts, given.talks)
    for voice, found in by_voice.items():
        right, marked, said = (found[name] for name in ("rightly said", "marked said", "truth said"))
        mistaken = f"words wrong {found['words wrong']:3} of {found['words']:4}"
        print(f"{voice:30} rightly said {right:3} of {marked:3} marked so, {said:3} said; {mistaken}")


def _states(marked: Talk) -> dict[str, str]:
    """What was made of each element; that a test does not pass denies that it does."""
    failed = {f"{test}.judgement" for test, passes in marked.judged if not passes}
    return {
        one.element: "denied" if one.element in failed and one.state == "said" else one.state for one in marked.marks
    }


def scheme_for(standard_id: str) -> Scheme:
    """What a recital by this standard has to hold, of the usual vehicle."""
    setup = Setup(standard=standard_id)
    standard = standards.load(standard_id)
    return scheme_of(setup, standard, plan(standard, setup.vehicle))


def typed(lines: Sequence[str]) -> list[Heard]:
    """One sentence after the other from the keyboard."""
    return [Heard(text=line, start_ms=at * 2000, end_ms=at * 2000 + 1500, by="typed") for at, line in enumerate(lines)]


class _Ears:
    """Speaks a talk in one voice and hears it."""

    def __init__(self, half: str, noise: str | None) -> None:
        found = hearing_speech.voices("held-out" if half in FINAL else "untaught")
        self._voices = [voice for voice in found if voice != sounds.RECORDED]
        self._noise = noise_of(noise) if noise else None
        self._model = model.find()

    def voice(self, number: int) -> str:
        """Who speaks the talk with this number."""
        return str(self._of(number))

    def _of(self, number: int) -> sounds.Voice:
        return self._voices[number % len(self._voices)]

    def hear(self, talk: TalkThrough, number: int, rng: np.random.Generator) -> list[Heard]:
        voice = self._of(number)
        gap = np.zeros(int(PAUSE_S * sounds.RATE), np.float32)
        spoken = [part for line in talk.sentences for part in (sounds.speak(voice, line, rng), gap)]
        noise, ratio = self._noise or (None, 0.0)
        sound = sounds.in_noise(np.concatenate(spoken), noise, ratio, rng)
        return sounds.hear(build.recogniser(self._model, free=True), sound)


def _count(talk: TalkThrough, got: dict[str, str]) -> Counter[str]:
    counts: Counter[str] = Counter()
    for element, truth in talk.truth.items():
        counts[f"truth {truth}"] += 1
        counts[f"{_kind(element)} {truth} as {got[element]}"] += 1
        counts["marked said"] += got[element] == "said"
        counts["rightly said"] += truth == got[element] == "said"
        counts["wrong found"] += truth == "wrong" and got[element] == "wrong"
        counts["wrong as said"] += truth == "wrong" and got[element] == "said"
        counts["denied as said"] += truth == "denied" and got[element] == "said"
    return counts


def _words(talk: TalkThrough, heard: Sequence[Heard]) -> Counter[str]:
    """How many words were said, and how many of them were heard otherwise."""
    said = [word for line in talk.sentences for word in _plain(line)]
    got = [word for one in heard for word in _plain(one.said(freely=True))]
    return Counter({"words": len(said), "words wrong": Levenshtein.distance(said, got)})


def _plain(text: str) -> list[str]:
    """The words, without the breaks between them."""
    return [word for word in words_of_text(text.replace("p s i", "psi")) if word.isalpha()]


def _show(talk: TalkThrough, marked: Talk, heard: list[Heard], got: dict[str, str]) -> None:
    for one in marked.marks:
        truth, state = talk.truth[one.element], got[one.element]
        if (truth == "said") != (state == "said") or (truth == "wrong") != (state == "wrong"):
            print(f"{truth:7}-> {state:7} {one.element}: {one.words!r}")
    print("   said: " + " | ".join(talk.sentences))
    print("   heard: " + " | ".join(h.text if h.open_text is None else h.open_text for h in heard))


def _kind(element: str) -> str:
    return "fact" if element.startswith("fact.") else element.rpartition(".")[2]


def _print(counts: Counter[str], talks: int) -> None:
    print(f"{talks} talks, {sum(counts[f'truth {state}'] for state in STATES)} elements")
    print("precision of said:     ", share(counts["rightly said"], counts["marked said"]))
    print("recall of said:        ", share(counts["rightly said"], counts["truth said"]))
    print("wrong limits found:    ", share(counts["wrong found"], counts["truth wrong"]))
    print("wrong limits as said:  ", counts["wrong as said"])
    print("denied counted as said:", share(counts["denied as said"], counts["truth denied"]))
    print("broken orders found:   ", share(counts["orders found"], counts["orders"]))
    if counts["words"]:
        print("words wrong:           ", share(counts["words wrong"], counts["words"]))
    print("\nkind       was     marked: " + "".join(f"{state:>8}" for state in STATES) + "   right mark")
    for kind in ("fact", "name", "action", "limit", "reading", "judgement"):
        for truth in STATES:
            marked = [counts[f"{kind} {truth} as {state}"] for state in STATES]
            if sum(marked):
                right = marked[STATES.index(truth)]
                print(
                    f"{kind:10} {truth:7}         " + "".join(f"{n:8}" for n in marked),
                    share(right, sum(marked)),
                )


if __name__ == "__main__":
    main()
