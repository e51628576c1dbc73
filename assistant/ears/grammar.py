"""From the files in grammars/ to the language that is heard, and to the acceptor that the recogniser obeys.

Law: `<utterance.utterance>` is the root; every other rule is reached from it. The rules of numbers are in no file:
`<number.usual>` and `<number.any>` come from core.numbers. A word that the speech model lacks needs a stand-in
(stand-ins.toml), or nothing is compiled. The acceptor is made in a child process, because kaldifst and the recogniser
must never meet in one.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

from assistant.core import numbers
from assistant.core.events import Unit
from assistant.core.language import Language
from assistant.core.trouble import BadInput, Missing
from assistant.ears import jsgf
from assistant.ears.automaton import Builder

ROOT = "utterance.utterance"
TALK_COST = 4.0
"""What leaving for everyday talk costs the recogniser, in nats. Of 88 sentences of talk in synthetic voices (clean; in
diesel noise at 5 dB) 3 and 16 were not ignored at 4, 5 and 27 at 6; readings were the same. Far above, the search gives
talk up before it can win, and everything is taken for a number."""
SILENCE_COST = 6.0
"""What it costs to take sound for nothing spoken. At 4, short words ("done") were taken for a noise; at 10, 7 of 40
stretches of noise for a word."""
_COMPILER = Path(__file__).with_name("grammar_compile.py")


def read(folder: Path, unit: Unit = "psi") -> Language:
    """The language of a folder of JSGF files with its stand-ins.toml, for gauges in this unit.

    Raises Missing when the folder has none, BadInput with file and place for one that can't be used.
    """
    grammars = _grammars(folder)
    stand_ins = _stand_ins(folder / "stand-ins.toml")
    builder = Builder(grammars, stand_ins, {"number.usual": numbers.USUAL[unit], "number.any": numbers.NUMBER})
    end = builder.rule(ROOT, 0)
    unused = sorted({f"{name}.{rule}" for name in grammars for rule in grammars[name].rules} - builder.reached)
    if unused:
        raise BadInput(f"Nothing leads to the rule <{unused[0]}>. Name it in another rule, or leave it out.")
    return Language(
        start=0,
        finals=(end,),
        arcs=tuple(builder.arcs),
        stand_ins=stand_ins,
        talk_cost=TALK_COST,
        silence_cost=SILENCE_COST,
    )


def examples(folder: Path) -> tuple[str, ...]:
    """The phrases of all `@example` lines: each of them is an utterance of the language."""
    return tuple(phrase for grammar in _grammars(folder).values() for phrase in grammar.examples)


def compile_acceptor(
    language: Language, words: Mapping[str, int], background: Sequence[tuple[str, float]], out: Path
) -> None:
    """Write the language as an OpenFst acceptor (determinised, minimal, arcs sorted by label) for a recogniser's graph.

    `words`: word -> number in the speech model. `background`: the everyday words of the talk loop with their costs in
    nats; a word that `words` lacks is passed over. Raises Missing naming every word that can be neither said nor stood
    in for, and when the compiler is not there or can't write.
    """
    _refuse_unknown(language, words)
    numbered = [
        (arc.source, arc.target, words.get(arc.word, 0), arc.cost)
        for arc in language.arcs
        if not arc.word or arc.word in words
    ]
    task = {
        "start": language.start,
        "finals": language.finals,
        "arcs": numbered,
        "talk": [(words[word], cost) for word, cost in background if word in words],
        "talk_cost": language.talk_cost,
        "silence_cost": language.silence_cost,
        "out": str(out),
    }
    command = [sys.executable, "-P", str(_COMPILER)]  # -P: the names in this folder must not hide other packages
    done = subprocess.run(command, input=json.dumps(task).encode(), capture_output=True, check=False)
    if done.returncode:
        reason = (done.stderr.decode(errors="replace").strip().splitlines() or ["no reason given"])[-1]
        raise Missing(f"The grammar could not be compiled ({reason}). Mend that, or install the package again.")


def _refuse_unknown(language: Language, words: Mapping[str, int]) -> None:
    spelled = {word for ways in language.stand_ins.values() for way in ways for word in way.split()}
    unknown = sorted(
        word
        for word in language.words - words.keys()
        if word not in spelled
        and not any(all(part in words for part in way.split()) for way in language.stand_ins.get(word, ()))
    )
    if unknown:
        raise Missing(
            f"The speech model does not know {', '.join(unknown)}. Choose another model, or write in"
            " grammars/stand-ins.toml how it would spell that sound."
        )


def _grammars(folder: Path) -> dict[str, jsgf.Grammar]:
    files = sorted(folder.glob("*.jsgf"))
    if not files:
        raise Missing(f"There is no grammar (*.jsgf) in {folder}. Install the package again, or name another folder.")
    read_in = {}
    for file in files:
        grammar = jsgf.parse(_text(file), file.name)
        if grammar.name != file.stem:
            raise BadInput(f"The grammar in {file.name} calls itself {grammar.name}. Give both the same name.")
        read_in[grammar.name] = grammar
    return read_in


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise BadInput(f"{file} can't be read as text ({fault}).") from fault


def _stand_ins(file: Path) -> dict[str, tuple[str, ...]]:
    try:
        found = tomllib.loads(_text(file))
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(f"{file.name} is not valid TOML: {fault}. Correct it there.") from fault
    for word, ways in found.items():
        if not isinstance(ways, list) or not ways or not all(isinstance(way, str) and way.split() for way in ways):
            raise BadInput(f"{file.name} has no list of spellings for {word}. Write for example: {word} = ['one way'].")
    return {word: tuple(ways) for word, ways in found.items()}
