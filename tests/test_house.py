"""The house itself: style, types, walls between rooms, and documents that tell the truth."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest
import typer.main

from assistant import assets, standards
from assistant.cli import app
from assistant.core.dialogue import table
from assistant.core.events import TestId, Vehicle
from assistant.core.hearing import Why
from assistant.core.plan import Fact, StepKind, plan
from assistant.review.recital.debrief import Hazard
from assistant.review.recital.scheme import Part

ROOT = Path(__file__).resolve().parent.parent
LITERAL = re.compile(r'"([a-z][a-z-]*\.[a-z][a-z-]*)"')


@pytest.mark.parametrize(
    "command",
    [("ruff", "check", "."), ("mypy",)],
    ids=["ruff", "mypy"],
)
def test_the_code_is_clean(command) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_imports_run_one_way() -> None:
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def _made_up() -> set[str]:
    """The prompt ids that the dialogue puts together from the names of its own things."""
    facts, kinds = get_args(Fact), get_args(StepKind)
    ids = {f"ask.{fact}" for fact in facts if fact != "released"} | {"ask.released", "ask.released-trailer"}
    ids |= {f"denied.{fact}" for fact in facts if fact != "rebuilt"} | {"denied.ending"}
    ids |= {f"ask.{test}" for test in get_args(TestId)[:3] if test != "build-up"}
    ids |= {f"ask.{test}" for test in ("low-air-warning", "trailer-supply-pop-out", "parking-valve-pop-out")}
    tugs = ("parking-tug", "parking-tug-trailer", "trailer-tug", "hand-valve", "service-brake")
    ids |= {f"ask.{tug}" for tug in tugs}
    ids |= {f"help.{kind}" for kind in kinds} | {f"again.{why.replace(' ', '-')}" for why in get_args(Why)}
    ids |= {f"test.{test}" for test in get_args(TestId)} | {"not-yet.below", "not-yet.rebuilt"}
    ids |= {f"verdict.{outcome}" for outcome in ("pass", "fail", "not-judged")}
    devices = ("microphone", "loudspeaker", "voice")
    ids |= {f"device.{device}-{state}" for device in devices for state in ("lost", "back")}
    ids |= {"device.log-lost", "device.log-back", "ended.recording-over", "ended.input-closed", "ended.told-to-stop"}
    ids |= {"device.clock-back"}
    ids |= {f"recital.opening-{how}" for how in ("strict", "asked", "coach")}
    ids |= {f"element.fact-{fact}" for fact in facts} | {f"card.{fact}" for fact in facts}
    ids |= {f"element.{part}" for part in (*get_args(Part), "rule") if part != "fact"}
    ids |= {f"card.do-{test}" for test in get_args(TestId)}
    ids |= {f"{kind}.{fact}" for kind in ("caution", "unsafe") for fact in get_args(Hazard)}
    return ids


def test_every_prompt_that_is_used_exists_and_every_prompt_is_used() -> None:
    existing = set(assets.prompts().ids())
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "assistant").rglob("*.py"))
    rooms = {prompt.split(".")[0] for prompt in existing}
    literal = {found for found in LITERAL.findall(code) if found.split(".")[0] in rooms and not found.endswith(".toml")}
    dynamic = _made_up()
    assert dynamic - existing == set()
    assert literal - existing == set()
    computed = ("limit.", "consequence.", "not-done.", "odd.", "cause.", "note.", "verdict.")
    unused = {prompt for prompt in existing - literal - dynamic if not prompt.startswith(computed)}
    assert unused == set()


def _commands() -> set[str]:
    group = typer.main.get_command(app())
    return set(group.commands)  # type: ignore[attr-defined]


def test_every_command_in_the_documents_exists_and_the_reverse() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8") + (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"\bgladhand ([a-z]+)\b", text))
    assert named == _commands()


def test_the_table_of_questions_in_the_documents_is_that_of_the_plan() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    made = plan(standards.load("common-practice"), Vehicle())
    assert table.questions(made) in text


def test_nothing_in_the_project_is_unfinished() -> None:
    marks = re.compile("|".join(("TO" + "DO", "FIX" + "ME", "X" * 3)))
    for folder in ("assistant", "tests", "grammars", "prompts", "audio_fixtures"):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in (".py", ".toml", ".jsgf", ".md"):
                assert not marks.search(path.read_text(encoding="utf-8")), path
