"""Whether to believe what was heard: a number that may be another one is asked again.

Law: only the evidence of the sound decides: rival paths, a second opinion, lost samples, the noise. The limit and the
expected value play no part, so no reading is believed because it passes. What was typed is never in doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

from assistant.core.events import Heard, Word
from assistant.core.numbers import are_twins, value_of
from assistant.core.sense import Sense


class Needs(NamedTuple):
    """How many nats a meaning has to be ahead of a rival in quiet (`usual`), of one that sounds nearly alike (`twin`:
    fifty for fifteen, unchocked for chocked; not one that no gauge reads: 119 is rarely meant as 190), and how many
    more for each dB that the speech is less than QUIET_SNR_DB above the noise which the front end has left (`per_db`:
    noise widens wrong leads too)."""

    usual: float
    twin: float
    per_db: float


ALONE: Final = Needs(usual=1.5, twin=4.5, per_db=0.3)
"""By the recogniser alone, its lattice beam 6 or more. Read off nine synthetic voices, 160 readings in each condition:
right and believed in quiet 135, with diesel noise at 5 dB 61; wrong 1 and 0."""
TOGETHER: Final = Needs(usual=6.0, twin=12.0, per_db=0.15)
"""By the lead of the second opinion and FIRST_WEIGHT of that of the recogniser. This and what follows was read off nine
voices that taught it nothing, in seven conditions. Of 980 readings 869 were right and believed, 7 wrong, and of 392
pieces of talk and noise none was taken for one. With 4, 8: 874, 11 and 0; with 8, 14: 863, 6 and 0; with 0.3 a dB as
well: 860, 5 and 0."""
OFF_SCALE: Final = 1.0
"""Nats that a rival has to be behind which no gauge reads ("one thousand and forty eight psi" for "tank forty eight").
Of 220 readings of fifteen synthetic voices 1 more was believed in quiet, none wrong."""
FIRST_WEIGHT: Final = 0.5
SPELLED_NATS: Final = 5.0
"""Only what is less far behind letters in no language may be a sentence where the recogniser has heard talk, ..."""
UNLIKE_NATS: Final = 4.0
"""... and nothing that is further behind is believed, or asked again (with 6.0 3 more are right and 1 more is
wrong); ..."""
UNLIKE_NATS_A_LETTER: Final = 0.3
"""... of a long number, for each letter (with 0.2 9 fewer are right, with 0.5 4 more and 1 more is wrong)."""
REPORT_A_LETTER: Final = 0.5
"""The same for all of what reports something with its number: words of the trade ("knob popped at") are not spelled as
surely as the number, which has to be as like as ever. Seen on one recording (0.2 to 0.5 a letter)."""
FEW_WORDS: Final = 2
"""So short a reading is not believed where the recogniser itself has heard a sentence without a number: bangs and
coughs above all. With 1 word, as without this rule, 1 more is wrong."""
ONE_WORD_NATS: Final = 0.5
"""A bare number is not believed where the recogniser has a word so near that is none ("four", "for"):
without this rule 7 more are right and 5 more are wrong."""
UNHEARD_NATS: Final = 90.0
"""What is further behind by the letters was not heard, however near the recogniser has it, in both of these rules:
without this 14 fewer are right and 2 fewer are wrong; with 55 8 more are right and 6 more are wrong."""
QUIET_SNR_DB: Final = 15.0
LOUD_SNR_DB: Final = 5.0
"""Below this ratio of speech to noise, a doubt is blamed on the noise."""
CLIPPED: Final = 0.1
"""Above this share of frames cut off at full scale, words are distorted. Common practice, no source."""
QUIET_DB: Final = -60.0
"""Speech below this level of full scale is in the noise of the microphone itself. Common practice, no source."""
HARMLESS: Final = frozenset({"stop", "stand-by", "help", "repeat"})
"""Commands that are obeyed on any evidence: doing it needlessly costs a sentence, asking again may cost more."""

Doubt = Literal["gap", "too near", "too quiet", "too loud", "doubtful"]
"""Each asks for something else to be done. "too near": the microphone; "too loud": the noise."""


class Contender(NamedTuple):
    """Another meaning that the sound may have, and how far it is behind, in nats; `second`: by the second opinion,
    None where there was none."""

    meaning: Sense
    behind: float
    second: float | None = None


def lead_of(contender: Contender) -> float:
    """How far ahead of it the best is, by all that is known."""
    if contender.second is None:
        return contender.behind
    return FIRST_WEIGHT * contender.behind + contender.second


def may_be_meant(contender: Contender, unlike: float | None) -> bool:
    """Whether something that was heard as talk may well have been this. Only a second opinion can say so. `unlike`: of
    the talk."""
    return contender.second is not None and unlike is not None and unlike + contender.second <= UNLIKE_NATS


def is_beaten(contender: Contender, best: Sense, snr_db: float | None) -> bool:
    """Whether `best` is far enough ahead. `snr_db`: after the front end; None where it is not known."""
    needs, lead = ALONE if contender.second is None else TOGETHER, lead_of(contender)
    noise = 0.0 if snr_db is None else needs.per_db * max(0.0, QUIET_SNR_DB - snr_db)
    if best.on_the_scale and not contender.meaning.on_the_scale:
        return lead >= OFF_SCALE + noise
    return lead >= (needs.twin if _alike(best, contender.meaning) else needs.usual) + noise


def _alike(best: Sense, rival: Sense) -> bool:
    pairs = zip(best.numbers, rival.numbers, strict=False)
    return best.alike or rival.alike or any(are_twins(one.value, other.value) for one, other in pairs)


def doubt(heard: Heard, best: Sense, rivals: Sequence[Contender]) -> Doubt | None:
    """Why not to believe an utterance that was understood as `best`; None when it can be believed.

    `rivals`: the other meanings that it may have.
    """
    if heard.by == "typed":
        return None
    if heard.gap:
        return "gap"
    if heard.clipped > CLIPPED:
        return "too near"
    if heard.level_db is not None and heard.level_db < QUIET_DB:
        return "too quiet"
    beaten = all(is_beaten(rival, best, heard.treated_snr_db) for rival in rivals)
    if beaten and not (_is_distorted(heard, best) or _is_overruled(heard, best, rivals) or _is_as_well_a_word(heard)):
        return None
    return "too loud" if heard.snr_db is not None and heard.snr_db < LOUD_SNR_DB else "doubtful"


def _is_distorted(heard: Heard, best: Sense) -> bool:
    """The sound is not that of the words, whatever else they might be. Numbers and what takes them back are spelled
    surely, words of the trade ("chocked") not always."""
    a_letter = REPORT_A_LETTER if best.reports else UNLIKE_NATS_A_LETTER
    spelled = bool(best.numbers) or best.withdraws
    unlike = spelled and heard.unlike is not None and heard.unlike > _most(heard.text, a_letter)
    numbers = [heard.words[number.first : number.end] for number in best.numbers]
    return unlike or any(map(_is_unlike, numbers))


def _is_unlike(number: Sequence[Word]) -> bool:
    text = " ".join(word.text for word in number)
    return sum(word.unlike or 0.0 for word in number) > _most(text, UNLIKE_NATS_A_LETTER)


def _most(text: str, a_letter: float) -> float:
    """Nats that a text may be unlike the sound."""
    return max(UNLIKE_NATS, a_letter * len(text))


def _is_overruled(heard: Heard, best: Sense, rivals: Sequence[Contender]) -> bool:
    """The recogniser itself had heard a sentence without a number where this is a short reading."""
    short = bool(best.numbers) and len(heard.text.split()) <= FEW_WORDS
    return short and any(
        rival.behind < 0 and not rival.meaning.numbers and not _is_unheard(rival.second) for rival in rivals
    )


def _is_unheard(second: float | None) -> bool:
    """The letters are not those of this rival, however near it is by the recogniser."""
    return second is not None and second > UNHEARD_NATS


def _is_as_well_a_word(heard: Heard) -> bool:
    """A bare number, for which a single word that is none would have done ("four", "for")."""
    return value_of(tuple(heard.text.split())) is not None and any(
        rival.behind < ONE_WORD_NATS
        and len(rival.text.split()) == 1
        and value_of((rival.text,)) is None
        and not _is_unheard(rival.behind_second)
        for rival in heard.rivals
    )
