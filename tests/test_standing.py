"""Which verdicts of a log stand: anyone can make a chain anew, but what happened in a check comes to one thing only."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.cli import run
from tests.log_sample import chained, log_of, unlinked
from tests.walk import GOVERNED, WHOLE, Walk

LAST = "primary one ten secondary one oh nine"  # of the applied hold, which began at 112 and 110
LEAKING = (*WHOLE[: WHOLE.index(LAST)], "primary one oh four secondary one oh nine")


def _rewritten(log: Path, change: Callable[[str], str]) -> Path:
    """The log with each line changed and a right chain again."""
    log.write_bytes(chained([change(body) for body in unlinked(log.read_bytes())]))
    return log


def _results(log: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, dict[str, object]]]:
    code = run(["report", str(log), "--json"])
    return code, {test["test"]: test for test in json.loads(capsys.readouterr().out)["tests"]}


def test_a_failure_that_was_rewritten_to_a_pass_is_not_judged_and_says_why(tmp_path, capsys) -> None:
    def forge(body: str) -> str:
        if '"test":"applied-leakage","outcome":"fail"' not in body:
            return body
        return body.replace('"outcome":"fail"', '"outcome":"pass"').replace('"margin":-4.0', '"margin":1.0')

    log = _rewritten(log_of(Walk(*LEAKING), tmp_path / "a.jsonl", sealed=False), forge)
    code, tests = _results(log, capsys)
    leak = tests["applied-leakage"]
    assert (code, leak["outcome"], leak["written"], leak["margin"]) == (1, "not judged", "pass", None)
    assert "Does not recompute: the log says pass, what happened in it comes to fail" in str(leak["reason"])
    assert (tests["static-leakage"]["outcome"], tests["static-leakage"]["written"]) == ("pass", None)
    run(["report", str(log), "-o", str(tmp_path / "a.html")])
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert 'data-test="applied-leakage" data-outcome="not judged"' in page
    assert "does not recompute; the log says pass" in page


def test_a_test_that_was_opened_again_has_no_verdict_even_where_something_else_does_not_recompute(
    tmp_path, capsys
) -> None:
    log = _rewritten(
        log_of(Walk(*GOVERNED, "go back"), tmp_path / "a.jsonl", sealed=False),
        lambda body: body.replace('"prompt":"opening.caution"', '"prompt":"opening.other"'),
    )
    code, tests = _results(log, capsys)
    assert code == 1
    assert [tests[test]["outcome"] for test in ("governor-cut-out", "governor-cut-in")] == ["pass", "not judged"]
    assert tests["governor-cut-in"]["value"] is None


def test_a_test_begun_again_in_a_log_that_holds_says_so(tmp_path, capsys) -> None:
    code, tests = _results(log_of(Walk(*GOVERNED, "go back"), tmp_path / "a.jsonl", sealed=False), capsys)
    assert (code, tests["governor-cut-in"]["reason"]) == (0, "It was begun again and not finished.")
    assert tests["static-leakage"]["reason"] == "The check ended before this test."


def test_readings_are_those_that_were_heard_not_those_that_the_log_claims_to_have_taken(tmp_path, capsys) -> None:
    log = _rewritten(
        log_of(Walk(*GOVERNED), tmp_path / "a.jsonl", sealed=False),
        lambda body: re.sub(r'("kind":"take","test":"governor-cut-out".*?"value":)125\.0', r"\g<1>110.0", body),
    )
    code, tests = _results(log, capsys)
    (read,) = tests["governor-cut-out"]["readings"]["at"]  # type: ignore[index]
    assert (code, read["value"]) == (1, 125.0)


def test_where_limits_have_changed_since_the_verdicts_of_then_stand(tmp_path, capsys) -> None:
    def age(body: str) -> str:
        body = re.sub(r'("standard":)"[0-9a-f]{64}"', rf'\1"{"0" * 64}"', body)
        return body.replace('"limit":"at most 140 psi"', '"limit":"at most 135 psi"')

    code, tests = _results(_rewritten(log_of(Walk(*GOVERNED), tmp_path / "a.jsonl", sealed=False), age), capsys)
    cut_out = tests["governor-cut-out"]
    assert (code, cut_out["outcome"], cut_out["limit"]) == (1, "pass", "at most 135 psi")
