"""The compiler of the acceptor, a program of its own: a task in JSON on standard input, an OpenFst file as the result.

Law: kaldifst is loaded here and nowhere else. Silence and everyday talk are joined on after determinisation: talk is a
loop over its words, entered from the start at a price, so that it stands beside the language and does not mix with it.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import kaldifst


def compile_task(task: dict[str, Any]) -> None:
    """Build and write the acceptor of one task (see `compile_acceptor` for what is in it)."""
    acceptor = kaldifst.StdVectorFst()
    count = 1 + max(max(source, target) for source, target, _, _ in task["arcs"])
    for _ in range(count):
        acceptor.add_state()
    acceptor.start = task["start"]
    for state in task["finals"]:
        acceptor.set_final(state, 0.0)
    for source, target, label, cost in task["arcs"]:
        acceptor.add_arc(source, kaldifst.StdArc(label, label, cost, target))
    kaldifst.connect(acceptor)
    kaldifst.rmepsilon(acceptor)
    exact = kaldifst.determinize(acceptor)
    kaldifst.minimize(exact)
    exact.set_final(exact.start, task["silence_cost"])
    _join_talk(exact, task["talk"], task["talk_cost"])
    kaldifst.arcsort(exact, sort_type="ilabel")
    if not exact.write(task["out"]):
        sys.exit(f"{task['out']} can't be written")


def _join_talk(acceptor: Any, talk: list[tuple[int, float]], price: float) -> None:
    """One word of talk or more."""
    before, after = acceptor.add_state(), acceptor.add_state()
    acceptor.set_final(after, 0.0)
    acceptor.add_arc(acceptor.start, kaldifst.StdArc(0, 0, price, before))
    for label, cost in talk:
        acceptor.add_arc(before, kaldifst.StdArc(label, label, cost, after))
    acceptor.add_arc(after, kaldifst.StdArc(0, 0, 0.0, before))


if __name__ == "__main__":
    compile_task(json.load(sys.stdin))
