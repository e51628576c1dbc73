"""The grammar files, what is made of them, and the acceptor that the recogniser gets."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from assistant.core.events import Heard
from assistant.core.hearing import tokens_of, understand
from assistant.core.language import Language
from assistant.core.trouble import BadInput, Missing
from assistant.ears import grammar, jsgf

FOLDER = Path(__file__).parents[1] / "grammars"
EXAMPLES = grammar.examples(FOLDER)
ON_PURPOSE_UNCLEAR = {
    "one eighteen one sixteen",
    "ninety two scratch that",
    "just under sixty",
    "buzzer went off",
}
NEAR_MISSES = (
    "eighty fourteen hundred",
    "one hundred and",
    "primary",
    "primary one eighteen secondary and",
    "correction",
    "light is",
    "trailer knob",
    "start the test",
    "roger",
    "ninety two bottles of milk",
    "it is held",
    "primary primary ninety",
    "psi ninety",
    "one eighteen one sixteen one fourteen one twelve one ten",
)


@cache
def language() -> Language:
    return grammar.read(FOLDER)


def write(folder: Path, **files: str) -> Path:
    for name, body in {"stand_ins": "", **files}.items():
        if name == "stand_ins":
            (folder / "stand-ins.toml").write_text(body, encoding="utf-8")
        else:
            (folder / f"{name}.jsgf").write_text(f"#JSGF V1.0 UTF-8 en;\ngrammar {name};\n{body}", encoding="utf-8")
    return folder


def tags(of: Language, text: str) -> list[list[str]]:
    return [[meant.tag for meant in meaning] for meaning in of.parse(text.split())]


# --- the files of the project ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("phrase", EXAMPLES)
def test_every_example_in_the_grammar_files_is_understood(phrase: str) -> None:
    understood = understand(Heard(text=phrase, start_ms=0, end_ms=0), language(), "psi")
    assert (understood.kind == "unclear") == (phrase in ON_PURPOSE_UNCLEAR)
    assert understood.why != "talk"


def test_every_report_answer_command_and_reason_has_an_example() -> None:
    shown = {meant.tag for phrase in EXAMPLES for meaning in language().parse(phrase.split()) for meant in meaning}
    assert {arc.tag for arc in language().arcs if arc.tag} <= shown | {"on=both", "unit=psi"}


@pytest.mark.parametrize("phrase", NEAR_MISSES)
def test_a_near_miss_is_outside_the_language(phrase: str) -> None:
    assert not language().parse(phrase.split())


def test_words_are_written_as_they_are_heard() -> None:
    assert all(tokens_of(word) == (word,) for word in language().words)


@pytest.mark.parametrize(
    ("text", "complete", "can_go_on"),
    [
        ("", False, True),
        ("one hundred", True, True),
        ("one hundred and", False, True),
        ("primary is at", False, True),
        ("it held", True, False),
        ("ninety two correction", False, True),
        ("what a day", False, False),
    ],
)
def test_it_is_known_how_far_an_utterance_has_got(text: str, complete: bool, can_go_on: bool) -> None:
    assert language().stand(text.split()) == (complete, can_go_on)


@pytest.mark.parametrize(
    ("text", "some", "none"),
    [
        ("", {"ninety", "primary", "wheels", "help"}, {"psi", "hundredth"}),
        ("ninety", {"two", "psi", "on", "correction"}, {"ninety two", "chocked"}),
        ("wheels are", {"chocked"}, {"ninety"}),
        ("the weather", set(), {"is", "ninety"}),
    ],
)
def test_a_beginning_goes_on_with_the_words_of_its_place_only(text, some, none) -> None:
    found = language().next_words(text.split())
    assert some <= found
    assert not found & none
    assert all(any(language().stand([*text.split(), word])) for word in found)
    assert bool(found) == language().stand(text.split()).open


def test_numbers_beyond_the_gauge_are_heard_but_cost_the_recogniser_more() -> None:
    def cost(of: Language, text: str) -> float:
        best = {(of.start, 0): 0.0}
        tokens, todo = text.split(), [(of.start, 0)]
        while todo:
            state, place = todo.pop()
            for arc in of.arcs:
                if arc.source == state and (not arc.word or tokens[place : place + 1] == [arc.word]):
                    there = (arc.target, place + bool(arc.word))
                    if best[state, place] + arc.cost < best.get(there, math.inf):
                        best[there] = best[state, place] + arc.cost
                        todo.append(there)
        return min(best.get((final, len(tokens)), math.inf) for final in of.finals)

    small = write_numbers("psi")
    assert cost(small, "one fifty") < cost(small, "eight fifty") < math.inf
    assert cost(write_numbers("kPa"), "eight fifty") < cost(small, "eight fifty")


@cache
def write_numbers(unit: str) -> Language:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        body = "import <number.*>; public <utterance> = /9/ <number.usual> | /1/ <number.any>;"
        return grammar.read(write(Path(folder), utterance=body), unit)  # type: ignore[arg-type]


def test_a_language_can_be_kept_as_json_and_has_a_fingerprint() -> None:
    again = Language.model_validate_json(language().model_dump_json())
    assert again == language()
    assert again.fingerprint == language().fingerprint
    assert again.parse(["ninety"]) == language().parse(["ninety"])
    assert language().model_copy(update={"talk_cost": 1.0}).fingerprint != language().fingerprint


# --- the format -----------------------------------------------------------------------------------------------------


def test_the_examples_of_the_jsgf_specification_are_read_as_it_says(tmp_path: Path) -> None:
    # JSpeech Grammar Format, W3C Note of 5 June 2000, sections 4 and 5.2 (polite commands), from memory.
    body = """
    public <utterance> = <startPolite> <action> <object> [<endPolite> {done}];
    <action> = /10/ open {OPEN} | /2/ close {CLOSE} | /1/ delete {DELETE} | /1/ move {MOVE};
    <object> = [the | a] (window | file | menu);
    <startPolite> = (please | kindly | could you | oh mighty computer)*;
    <endPolite> = please | thanks | thank you;
    """
    read = grammar.read(write(tmp_path, utterance=body))
    assert tags(read, "please open the window") == [["OPEN"]]
    assert tags(read, "oh mighty computer could you move a menu thanks") == [["MOVE", "done"]]
    assert tags(read, "close file please") == [["CLOSE", "done"]]
    assert tags(read, "open the") == tags(read, "the window open") == []
    weights = sorted({round(math.exp(-arc.cost) * 14, 6) for arc in read.arcs} & {10.0, 2.0, 1.0})
    assert weights == [1.0, 2.0, 10.0]


def test_a_sequence_binds_closer_than_an_alternative(tmp_path: Path) -> None:
    # JSGF 4.7: precedence from parentheses over repetition and tags and sequences to alternatives.
    body = "public <utterance> = (a | b) c | d e {t} | f (g {u} | h)+ {v};"
    read = grammar.read(write(tmp_path, utterance=body))
    assert tags(read, "d e") == [["t"]]
    assert tags(read, "a c") == tags(read, "b c") == [[]]
    assert tags(read, "f g h g") == [["v", "u", "u"]]
    assert not tags(read, "a d e")
    assert not tags(read, "f")


def test_comments_and_examples_are_told_apart() -> None:
    text = """#JSGF V1.0;
    // a line
    grammar x; /* more
    */
    /**
     * @example open the window
     * @example it's closed */
    public <a> = b; // c | d
    """
    read = jsgf.parse(text, "x.jsgf")
    assert read.examples == ("open the window", "it's closed")
    assert read.rules == {"a": jsgf.Word("b")}
    assert read.public == {"a"}


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({}, "no grammar"),
        ({"utterance": "public <utterance> = a"}, "JSGF format"),
        ({"utterance": "public <utterance> = (a;"}, "line 3, column 24"),
        ({"utterance": "public <utterance> = a; <utterance> = b;"}, "twice"),
        ({"utterance": "public <utterance> = <nothing>;"}, "No grammar file defines <utterance.nothing>"),
        ({"utterance": "public <utterance> = a <utterance>;"}, "names itself"),
        ({"utterance": "public <utterance> = a; <b> = c;"}, "Nothing leads to the rule <utterance.b>"),
        ({"utterance": "public <utterance> = /0/ a | b;"}, "not above zero"),
        ({"utterance": "public <utterance> = [a]* b;"}, "repeats what may be nothing"),
        ({"utterance": "public <utterance> = <x.y>;", "x": "public <y> = b;"}, "does not import"),
        ({"utterance": "import <x.y>; public <utterance> = <x.y>;", "x": "<y> = b;"}, "not public"),
        ({"x": "public <y> = b;"}, "No grammar file defines <utterance.utterance>"),
        ({"utterance": "public <utterance> = a;", "stand_ins": "a = 'b'"}, "no list of spellings for a"),
        ({"utterance": "public <utterance> = a;", "stand_ins": "a = "}, "not valid TOML"),
    ],
)
def test_a_faulty_grammar_is_refused_with_what_to_do(tmp_path: Path, files: dict[str, str], told: str) -> None:
    with pytest.raises((BadInput, Missing), match=told):
        grammar.read(write(tmp_path, **files))


def test_a_grammar_that_calls_itself_otherwise_than_its_file_is_refused(tmp_path: Path) -> None:
    write(tmp_path, utterance="public <utterance> = a;")
    (tmp_path / "utterance.jsgf").rename(tmp_path / "other.jsgf")
    with pytest.raises(BadInput, match="calls itself utterance"):
        grammar.read(tmp_path)


# --- stand-ins and the acceptor -------------------------------------------------------------------------------------

ACCEPTS = """
import json, sys, kaldifst
acceptor = kaldifst.StdVectorFst.read(sys.argv[1])
for labels in json.load(sys.stdin):
    if labels is None:
        arcs = [(state, arc.ilabel) for state in kaldifst.StateIterator(acceptor)
                for arc in kaldifst.ArcIterator(acceptor, state)]
        print(json.dumps(arcs))
        continue
    line = kaldifst.make_linear_acceptor(labels)
    print(json.dumps(kaldifst.compose(line, acceptor).num_states > 0))
"""


def in_child(acceptor: Path, questions: list[list[int] | None]) -> list[object]:
    """Ask kaldifst about a file; in a child, because it and the recogniser must never meet in one process."""
    done = subprocess.run(
        [sys.executable, "-c", ACCEPTS, str(acceptor)],
        input=json.dumps(questions).encode(),
        capture_output=True,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def numbered(words: set[str]) -> dict[str, int]:
    return {word: number for number, word in enumerate(sorted(words), start=1)}


def test_the_acceptor_takes_every_example_and_no_near_miss(tmp_path: Path) -> None:
    words = numbered({*language().words, *(word for phrase in NEAR_MISSES for word in phrase.split())})
    out = tmp_path / "Gr.fst"
    grammar.compile_acceptor(language(), words, [], out)
    phrases = [*EXAMPLES, *NEAR_MISSES]
    questions: list[list[int] | None] = [[words[word] for word in phrase.split()] for phrase in phrases]
    *accepted, arcs = in_child(out, [*questions, None])
    assert dict(zip(phrases, accepted, strict=True)) == {phrase: phrase in EXAMPLES for phrase in phrases}
    assert isinstance(arcs, list)
    assert max(Counter((state, label) for state, label in arcs).values()) == 1  # deterministic
    by_state: dict[int, list[int]] = {}
    for state, label in arcs:
        by_state.setdefault(state, []).append(label)
    assert all(labels == sorted(labels) for labels in by_state.values())


def test_talk_stands_beside_the_language_and_does_not_mix_with_it(tmp_path: Path) -> None:
    small = grammar.read(write(tmp_path, utterance="public <utterance> = brakes set;"))
    words = numbered({"brakes", "set", "nice", "weather"})
    out = tmp_path / "Gr.fst"
    grammar.compile_acceptor(small, words, [("nice", 2.0), ("weather", 3.0), ("unheard", 1.0)], out)
    phrases = ["brakes set", "nice weather nice", "brakes weather", "set", "nice brakes set"]
    answers = in_child(out, [[words[word] for word in phrase.split()] for phrase in phrases])
    assert answers == [True, True, False, False, False]


def test_a_word_that_the_model_lacks_is_heard_by_its_stand_in_and_means_the_word(tmp_path: Path) -> None:
    body = "public <utterance> = chocks {in} set | brakes set {brakes};"
    small = grammar.read(write(tmp_path, utterance=body, stand_ins="chocks = ['chalks', 'jock s']"))
    assert tags(small, "chocks set") == tags(small, "chalks set") == tags(small, "jock s set") == [["in"]]
    words = numbered({"chalks", "set", "brakes"})
    out = tmp_path / "Gr.fst"
    grammar.compile_acceptor(small, words, [], out)
    assert in_child(out, [[words["chalks"], words["set"]]]) == [True]


def test_words_that_can_be_neither_said_nor_stood_in_for_are_named(tmp_path: Path) -> None:
    body = "public <utterance> = chocks set | treadle down;"
    small = grammar.read(write(tmp_path, utterance=body, stand_ins="chocks = ['chalks']"))
    with pytest.raises(Missing, match="does not know chocks, treadle"):
        grammar.compile_acceptor(small, numbered({"set", "down"}), [], tmp_path / "Gr.fst")
    assert not (tmp_path / "Gr.fst").exists()


def test_a_compiler_that_fails_is_told_in_a_sentence(tmp_path: Path) -> None:
    small = grammar.read(write(tmp_path, utterance="public <utterance> = set;"))
    with pytest.raises(Missing, match="could not be compiled"):
        grammar.compile_acceptor(small, {"set": 1}, [], tmp_path / "nowhere" / "Gr.fst")


def test_silence_is_nothing_said(tmp_path: Path) -> None:
    small = grammar.read(write(tmp_path, utterance="public <utterance> = brakes set;"))
    out = tmp_path / "Gr.fst"
    grammar.compile_acceptor(small, numbered({"brakes", "set"}), [], out)
    assert in_child(out, [[]]) == [True]
    assert small.parse([]) == ()
    assert small.silence_cost > 0
