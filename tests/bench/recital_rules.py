"""How limits are told in single sentences: `python -m tests.bench.recital_rules rules/country [--unlearnt]`.

Each limit of these writers is said right, then with a changed figure, and each denial, right behind the name of its
test. Prints what was made of them. The writers of `recital_talks.PARTIAL` looked for as many ways as they could, so it
is harder than a talk. With `--unlearnt` all is learnt anew without them first, which takes some minutes and writes
nothing (extra `learn`).
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from assistant import standards
from assistant.core.events import Heard, Setup, TestId
from assistant.core.numbers import spoken
from assistant.core.plan import plan
from assistant.review.recital import Scheme, learnt, mark, scheme_of
from assistant.review.recital.kinds import kind_of
from tests.bench.recital_learn import learn_bounds, learn_meaning
from tests.bench.recital_talks import LEARNT, PARTIAL, changed, corpus, figures_of, moving_part

NAMES: dict[TestId, str] = {
    "build-up": "the build up time test",
    "governor-cut-out": "governor cut out",
    "governor-cut-in": "governor cut in",
    "static-leakage": "static leak test",
    "applied-leakage": "applied leak test",
    "low-air-warning": "low air warning",
    "trailer-supply-pop-out": "trailer supply valve pop out",
    "parking-valve-pop-out": "parking brake valve pop out",
    "parking-brake": "parking brake tug test",
    "trailer-brake": "trailer brake tug test",
    "hand-valve": "trailer hand valve",
    "service-brake": "service brake test",
}
STATES = ("said", "wrong", "denied", "missed")


class Case(NamedTuple):
    """`truth`: said, wrong (another figure) or denied."""

    truth: str
    test: TestId
    sentence: str


def main() -> None:
    """Count, and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("writers", nargs="+", choices=(*LEARNT, *PARTIAL))
    parser.add_argument("--unlearnt", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    if given.unlearnt:
        others = [name for name in (*LEARNT, *PARTIAL) if name not in given.writers]
        meaning = learnt.Learnt(learn_meaning(others), learnt.features)
        bounding = learnt.Learnt(learn_bounds(others), learnt.bound_features)
        vars(learnt)["_shipped"] = lambda: (meaning, bounding)
    setup = Setup(standard="common-practice")
    standard = standards.load(setup.standard)
    scheme = scheme_of(setup, standard, plan(standard, setup.vehicle))
    counts: Counter[tuple[str, str, str]] = Counter()
    for case in cases(scheme, given.writers, np.random.default_rng(given.seed)):
        limit = scheme.limit(case.test)
        assert limit is not None
        counts[case.truth, kind_of(limit), _marked(scheme, case)] += 1
    for truth, kind in dict.fromkeys(key[:2] for key in counts):
        told = "  ".join(f"{state} {counts[truth, kind, state]:4}" for state in STATES)
        print(f"{truth:7} {kind:9} {told}")


def cases(scheme: Scheme, writers: Sequence[str], rng: np.random.Generator) -> Iterator[Case]:
    """Every sentence of theirs that states or denies a limit, said of one of the tests with such a limit."""
    for name in writers:
        words = corpus(name)
        for truth, room in (("said", "limits"), ("wrong", "limits"), ("denied", "denied")):
            for kind, lines in words.get(room, {}).items():
                tests = [test for test in scheme.tests if (limit := scheme.limit(test)) and kind_of(limit) == kind]
                for at, line in enumerate(lines if tests else ()):
                    test = tests[at % len(tests)]
                    values = figures_of(scheme.limit(test), scheme)
                    if truth == "wrong" and not values:
                        continue
                    values = changed(values, rng) if truth == "wrong" else values
                    told = {key: spoken(value) for key, value in values.items()}
                    yield Case(truth, test, line.format(it=moving_part(test), **told))


def _marked(scheme: Scheme, case: Case) -> str:
    lines = (NAMES[case.test], case.sentence)
    heard = [Heard(text=line, start_ms=at * 2000, end_ms=at * 2000 + 1500, by="typed") for at, line in enumerate(lines)]
    return mark(scheme, heard).mark(f"{case.test}.limit").state


if __name__ == "__main__":
    main()
