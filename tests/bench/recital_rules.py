"""How limits are told in single sentences: `python -m tests.bench.recital_rules rules/country [--learnt FILE]`.

Each limit of these writers is said right, then with a changed figure, and each denial, right behind the name of its
test. Prints what was made of them. The writers of `recital_writers.PARTIAL` looked for as many ways as they could, so
it is harder than a talk. What is shipped has learnt from them; with `--learnt` another network tells, such as one of
`tests.bench.recital_learn --without rules/country --out FILE`.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from assistant.core.events import TestId
from assistant.core.numbers import spoken
from assistant.review.recital import Scheme, learnt, mark
from assistant.review.recital.kinds import kind_of
from tests.bench.recital import STATES, scheme_for, typed
from tests.bench.recital_talks import changed, figures_of, moving_part
from tests.bench.recital_writers import PARTIAL, TUNED_ON, corpus


class Case(NamedTuple):
    """`truth`: said, wrong (another figure) or denied."""

    truth: str
    test: TestId
    sentence: str


def main() -> None:
    """Count, and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("writers", nargs="+", choices=(*TUNED_ON, *PARTIAL))
    parser.add_argument("--learnt", type=Path, default=learnt.FILE)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    learnt.FILE = given.learnt
    scheme = scheme_for("common-practice")
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
    name = corpus("development")["names"][case.test][0]
    return mark(scheme, typed((name, case.sentence))).mark(f"{case.test}.limit").state


if __name__ == "__main__":
    main()
