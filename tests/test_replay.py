"""Going through a finished log: from a test on, only what failed, by another standard, and with its kept sound."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from assistant.cab.keeping import folder_beside
from assistant.cli import app, run
from assistant.cli.automatic import header
from assistant.core.events import Heard
from assistant.log import SessionLog
from tests.test_report import FAILED, kept
from tests.walk import WHOLE, Walk


def told(log: Path, *options: str) -> str:
    result = CliRunner().invoke(app(), ["replay", str(log), *options], env={"COLUMNS": "200"})
    assert result.exit_code == 0, result.output
    return result.output


def test_the_course_begins_where_it_is_wanted(tmp_path) -> None:
    whole = told(kept(tmp_path, *WHOLE))
    part = told(kept(tmp_path, *WHOLE), "--from", "low-air-warning")
    assert "Build-up: pass" in whole
    assert "Build-up: pass" not in part
    assert "sixty two light and buzzer on" in part
    assert "Service brake: pass" in part


def test_only_what_failed_is_shown_on_request(tmp_path) -> None:
    part = told(kept(tmp_path, *FAILED), "--only", "failed")
    assert "Applied leakage: fail" in part
    assert "limit: a loss of at most 4 psi in 60 s" in part
    assert "Static leakage: pass" not in part


def test_what_the_recogniser_had_besides_is_shown(tmp_path) -> None:
    walk = Walk(*WHOLE)
    log = SessionLog.create(tmp_path, header(walk.setup))
    for at_ms, event, effects in walk.events:
        seen = event
        if isinstance(event, Heard) and event.text == "one twenty five":
            seen = event.model_copy(update={"by": "voice", "open_text": "one twenty fire", "snr_db": 12.0})
        log.append(at_ms, "2026-11-25T08:00:00.000+00:00", at_ms * 1_000_000, seen, effects)
    log.close()
    text = told(log.path)
    assert "in free words: one twenty fire" in text
    assert "12 dB above the noise" in text


def test_the_same_readings_by_another_standard(tmp_path) -> None:
    text = told(kept(tmp_path, *WHOLE), "--standard", "cdl-manual")
    assert "By common-practice" in text
    assert "By cdl-manual" in text
    same = told(kept(tmp_path, *WHOLE), "--standard", "common-practice")
    assert "No verdict changes." in same


@pytest.mark.parametrize(
    "options", [("--from", "no-such"), ("--only", "all"), ("--standard", "no-such"), ("--only", "failed")]
)
def test_what_can_not_be_shown_is_told_in_a_sentence(tmp_path, capsys, options) -> None:
    assert run(["replay", str(kept(tmp_path, *WHOLE)), *options]) != 0
    assert "Traceback" not in capsys.readouterr().err


def _with_sound(folder: Path) -> Path:
    walk = Walk(*WHOLE)
    log = SessionLog.create(folder, header(walk.setup))
    beside = folder_beside(log.path)
    beside.mkdir()
    for place, (at_ms, event, effects) in enumerate(walk.events):
        seen = event
        if isinstance(event, Heard):
            file = beside / f"{at_ms:08d}.flac"
            soundfile.write(file, np.full(800, place, np.int16), 16_000, subtype="PCM_16")
            seen = event.model_copy(update={"sound": hashlib.sha256(file.read_bytes()).hexdigest()})
        log.append(at_ms, "2026-11-25T08:00:00.000+00:00", at_ms * 1_000_000, seen, effects)
    log.seal()
    return log.path


def test_kept_sound_is_proven_with_the_log(tmp_path, capsys) -> None:
    log = _with_sound(tmp_path)
    assert "kept utterances are the ones" in told(log, "--verify")
    changed = sorted(folder_beside(log).glob("*.flac"))[3]
    changed.write_bytes(changed.read_bytes()[:-1] + b"x")
    assert run(["replay", str(log), "--verify"]) != 0
    assert "missing or were changed" in capsys.readouterr().err


def test_kept_sound_can_be_heard_from_the_report(tmp_path) -> None:
    log = _with_sound(tmp_path)
    out = tmp_path / "page.html"
    assert run(["report", str(log), "-o", str(out)]) == 0
    assert out.read_text(encoding="utf-8").count("<audio") == sum(not word.startswith("+") for word in WHOLE)
    assert run(["report", str(log), "-o", str(out), "--no-sound"]) == 0
    assert "<audio" not in out.read_text(encoding="utf-8")
