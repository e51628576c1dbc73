"""Settings: one file, options before it, and where each value came from."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from assistant.cli import run
from assistant.cli.settings import effective
from assistant.log import read


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "settings.toml"
    monkeypatch.setenv("GLADHAND_SETTINGS", str(path))
    monkeypatch.setenv("COLUMNS", "200")
    return path


def test_an_option_goes_before_the_file_and_the_file_before_the_default(file) -> None:
    file.write_text('standard = "ontario"\nrate = 200\n')
    held = effective({"rate": 120, "voice": None})
    assert (held.settings.standard, held.settings.rate, held.settings.needles) == ("ontario", 120, 2)
    assert [held.origins[name] for name in ("standard", "rate", "needles", "voice")] == [
        "settings file",
        "option",
        "default",
        "default",
    ]


def test_the_command_shows_every_value_and_where_it_came_from(file, capsys) -> None:
    file.write_text('vehicle = "bus"\nkeep_sound = false\n')
    assert run(["settings"]) == 0
    rows = {line.split()[0]: line for line in capsys.readouterr().out.splitlines() if line.strip()}
    assert "bus" in rows["vehicle"]
    assert "settings file" in rows["vehicle"]
    assert "false" in rows["keep_sound"]
    assert "default" in rows["rate"]


def test_without_a_file_everything_is_a_default(file, capsys) -> None:
    assert run(["settings"]) == 0
    printed = capsys.readouterr().out
    assert f"{file} (not there" in printed
    assert "settings file" not in printed.split("\n", 1)[1]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('standart = "ontario"', 'no setting "standart". There are: vehicle'),
        ("rate = 20", '"rate" can\'t be used'),
        ('rate = "fast"', '"rate" can\'t be used'),
        ("needles = 3", '"needles" can\'t be used'),
        ('vehicle = "rickshaw"', "truck, bus, tractor"),
        ('standards = ["moon"]', 'no standard "moon"'),
        ("rate = = 3", "is not a settings file"),
    ],
)
def test_a_mistake_in_the_file_is_told_in_a_sentence(file, capsys, text, says) -> None:
    file.write_text(text)
    assert run(["settings"]) in (2, 4)
    told = capsys.readouterr().err
    assert says in told
    assert "Traceback" not in told


def test_a_check_is_begun_with_the_settings(file, tmp_path, monkeypatch) -> None:
    file.write_text('vehicle = "bus"\nunit = "kPa"\nneedles = 1\nfleet_number = "B-12"\nstandard = "ontario"\n')
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    run(["check", "--typed", "--fast", "--fleet-number", "B-13", "--log", str(tmp_path / "logs")])
    (log,) = (tmp_path / "logs").glob("*.jsonl")
    setup = read(log).header.setup
    assert (setup.vehicle.vehicle_class, setup.vehicle.needles, setup.unit) == ("bus", 1, "kPa")
    assert (setup.fleet_number, setup.standard) == ("B-13", "ontario")


def test_devices_that_are_named_in_the_settings_do_not_disturb_a_typed_check(file, tmp_path, monkeypatch) -> None:
    file.write_text('microphone = "none of these"\nlog = "' + str(tmp_path / "kept").replace("\\", "/") + '"\n')
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    run(["check", "--typed", "--fast"])
    assert list((tmp_path / "kept").glob("*.jsonl"))
