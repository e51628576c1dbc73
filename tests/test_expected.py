"""What the free decode expects: an acceptor by the published layout whose probabilities sum to one.

Sources: the layout of an OpenFst vector file, read back by kaldifst in a child process (an OpenFst of its own).
"""

from __future__ import annotations

import json
import subprocess
import sys
from math import exp

import numpy as np
import pytest

from assistant.ears import lexicon
from assistant.ears.expected import START, Expected, compile_expected
from assistant.ears.following import Following
from assistant.review.recital.turns import turns

_READ = """
import json, math, sys, kaldifst
fst = kaldifst.StdVectorFst.read(sys.argv[1])
sums = []
for state in kaldifst.StateIterator(fst):
    arcs = [(arc.ilabel, arc.weight.value) for arc in kaldifst.ArcIterator(fst, state)]
    ordered = arcs == sorted(arcs, key=lambda arc: arc[0])
    sums.append([len(arcs), ordered, sum(math.exp(-cost) for word, cost in arcs if word)])
print(json.dumps([fst.start, sums]))
"""


@pytest.fixture(scope="module")
def compiled(speech_model, tmp_path_factory):
    out = tmp_path_factory.mktemp("expected") / "graph" / "Gr.fst"
    out.parent.mkdir()
    said = Expected((("the", "governor", "cuts", "out"), ("the", "chocks", "are", "in")), {"chocks": ("chalks",)})
    compile_expected(speech_model)(said, lexicon.read(speech_model).ids, (), out)
    return out


def test_another_openfst_reads_it_and_without_a_history_all_comes_to_one(compiled) -> None:
    done = subprocess.run([sys.executable, "-c", _READ, str(compiled)], capture_output=True, check=True)
    start, states = json.loads(done.stdout)
    assert start == 1
    assert all(ordered for _, ordered, _ in states)
    assert states[0][2] == pytest.approx(1.0, abs=1e-4)
    assert max(likely for _, _, likely in states) < 1.0 + 1e-4


def test_read_back_all_words_that_may_follow_come_to_one(compiled, speech_model) -> None:
    ids = lexicon.read(speech_model).ids
    compiled.with_name("words.txt").write_text("".join(f"{word} {at}\n" for word, at in ids.items()), encoding="utf-8")
    following = Following(compiled.parents[1])
    for before in ("", "the", "the chalks"):
        _, state = following.after(START, [ids[word] for word in before.split()])
        likely = {word: exp(-following.after(state, [at])[0]) for word, at in following.numbers.items()}
        assert sum(likely.values()) == pytest.approx(1.0, abs=1e-3)
    assert max(likely, key=likely.__getitem__) == "are"
    with pytest.raises(KeyError):
        following.after(START, [-1])


def test_a_word_that_the_model_lacks_is_expected_as_it_is_spelled(speech_model) -> None:
    ids = lexicon.read(speech_model).ids
    said = Expected((("the", "chocks", "are", "in"), ("the", "qwzx", "is", "on")), {"chocks": ("chalks", "jocks")})
    spelled = [[word for number in turn for word, at in ids.items() if at == number] for turn in said.numbered(ids)]
    assert [turn[1] for turn in spelled] == ["chalks", "jocks"]


def test_the_histories_of_the_model_are_probabilities(speech_model) -> None:
    for _, history in zip(range(200), lexicon.histories(speech_model), strict=False):
        assert 0 <= np.exp(-history.costs).sum() < 1.0001


def test_the_turns_hold_every_number_alike_and_a_denial_beside_each_statement() -> None:
    words = [word for turn in turns() for word in turn]
    tens = [
        words.count(word) for word in ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
    ]
    assert max(tens) < 1.5 * min(tens)
    assert words.count("not") > len(turns()) / 50
