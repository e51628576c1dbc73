"""The files that come with the program are found wherever it was installed from, and known by their fingerprints."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from assistant import assets
from assistant.core.trouble import BadInput, Missing, Trouble

ROOT = Path(__file__).parents[1]
CARRIED = ("grammars", "prompts", "audio_fixtures/demo")
SHOW = (
    "import site, sys; known = list(sys.path); site.addsitedir(sys.argv[1]); "
    "sys.path.sort(key=known.__contains__); from assistant import assets; "  # before what this environment has itself
    "print(assets.grammars(), assets.prompt_folder(), assets.demo(), len(assets.prompts().ids()), sep='\\n')"
)


def files_in(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file() and "__pycache__" not in path.parts)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what a wheel is built from, so that building leaves nothing behind in this one."""
    copy = tmp_path_factory.mktemp("checkout")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy)
    for name in ("assistant", *CARRIED):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "_data"))
    return copy


def found_from(site: Path) -> list[str]:
    """What a Python process of its own finds, with the program installed in `site` and nowhere else."""
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    environment.pop("PYTHONPATH", None)
    command = [sys.executable, "-c", SHOW, str(site)]
    done = subprocess.run(command, cwd=site, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.fixture(scope="module")
def wheel(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "--no-index", "--quiet"]
    done = subprocess.run(
        [*command, "--wheel-dir", str(out), str(checkout)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    (built,) = out.glob("*.whl")
    return built


def test_a_wheel_carries_every_grammar_prompt_and_demo_file_unchanged(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path)
    for name in CARRIED:
        assert files_in(tmp_path / "assistant" / "_data" / name) == files_in(ROOT / name) != {}
    code = {name: data for name, data in files_in(ROOT / "assistant").items() if not name.startswith("_data/")}
    assert files_in(tmp_path / "assistant").items() >= code.items()


def test_from_a_wheel_the_files_inside_the_package_are_found(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path)
    data = tmp_path / "assistant" / "_data"
    expected = [str(data / name) for name in ("grammars", "prompts/en", "audio_fixtures/demo")]
    assert found_from(tmp_path) == [*expected, str(len(assets.prompts().ids()))]


def test_from_an_editable_install_the_files_of_the_checkout_are_found(checkout: Path, tmp_path: Path) -> None:
    build = "import sys; from hatchling.build import build_editable; build_editable(sys.argv[1])"
    subprocess.run([sys.executable, "-c", build, str(tmp_path)], cwd=checkout, check=True, capture_output=True)
    (built,) = tmp_path.glob("*.whl")
    with zipfile.ZipFile(built) as archive:
        archive.extractall(tmp_path / "site")
    expected = [str(checkout / name) for name in ("grammars", "prompts/en", "audio_fixtures/demo")]
    assert found_from(tmp_path / "site")[:3] == expected


def test_from_a_plain_checkout_its_own_files_are_found(checkout: Path) -> None:
    expected = [str(checkout / name) for name in ("grammars", "prompts/en", "audio_fixtures/demo")]
    assert found_from(checkout)[:3] == expected


def test_the_prompts_of_this_program_load_in_both_wordings() -> None:
    assert assets.prompts().ids() == assets.prompts(brief=True).ids() != ()


def home(folder: Path, files: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(assets, "_HOME", folder)
    return folder


def test_a_part_of_the_program_that_is_missing_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home(tmp_path, {"prompts": "a file"}, monkeypatch)
    for function, name in ((assets.grammars, "grammars"), (assets.demo, "demo"), (assets.prompts, "prompts")):
        with pytest.raises(Missing, match=f"{name}.*Install it again"):
            function()


def test_prompts_are_gathered_from_all_files_of_the_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = {
        "prompts/en/a.toml": '[ask.one]\nsay = "One?"',
        "prompts/en/b.toml": '[ask.two]\nsay = "Two?"',
        "prompts/en/notes.md": "no prompts",
        "prompts/de/a.toml": '[ask.one]\nsay = "Eins, größer?"',
    }
    home(tmp_path, files, monkeypatch)
    assert assets.prompts().ids() == ("ask.one", "ask.two")
    assert assets.prompts("de").ids() == ("ask.one",)


@pytest.mark.parametrize("language", ["fr", "", "..", "../prompts/en", "EN "])
def test_a_language_that_is_not_there_is_told_with_those_that_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, language: str
) -> None:
    home(tmp_path, {"prompts/en/a.toml": "", "prompts/de/a.toml": ""}, monkeypatch)
    with pytest.raises(Missing, match="de, en"):
        assets.prompts(language)


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"prompts/en/a.toml": "[ask.one"}, r"a\.toml is no file of prompts"),
        ({"prompts/en/a.toml": '[ask.one]\nsay = "{x:furlongs}"'}, 'no form "furlongs"'),
        ({"prompts/en/a.toml": "[ask.one]\nsaid = 1"}, r'a\.toml: Prompt "ask\.one": "said"'),
        (
            {"prompts/en/a.toml": '[a.b]\nsay = "x"', "prompts/en/b.toml": '[a.b]\nsay = "y"'},
            r'"a\.b" stands in .*b\.toml',
        ),
        ({"prompts/en/a.toml": ""}, "holds no prompts"),
    ],
)
def test_a_prompt_file_that_does_not_hold_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: dict[str, str], says: str
) -> None:
    home(tmp_path, files, monkeypatch)
    with pytest.raises(Trouble, match=says):
        assets.prompts()


def test_a_prompt_file_that_is_no_text_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home(tmp_path, {"prompts/en/a.toml": ""}, monkeypatch)
    (tmp_path / "prompts/en/a.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Trouble, match=r"a\.toml is no file of prompts"):
        assets.prompts()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("b.txt", "a.txt", "deep/er/c.txt", "deep.txt", "B.txt", "deep/.hidden", ".hidden/d.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(f"inside {name}".encode())
    return tmp_path


FINGERPRINT_COMMAND = "find * -type f | grep -v '/[.]' | LC_ALL=C sort | xargs sha256sum | sha256sum"


@pytest.mark.skipif(shutil.which("sha256sum") is None or os.name != "posix", reason="needs GNU coreutils")
def test_a_folders_fingerprint_can_be_made_with_the_command_that_its_documentation_gives(folder: Path) -> None:
    """Source: GNU coreutils."""
    assert FINGERPRINT_COMMAND in (assets.fingerprint.__doc__ or "")
    done = subprocess.run(FINGERPRINT_COMMAND, shell=True, cwd=folder, capture_output=True, text=True, check=True)
    assert assets.fingerprint(folder) == done.stdout.split()[0]


def test_a_files_fingerprint_is_its_sha256(folder: Path) -> None:
    assert assets.fingerprint(folder / "a.txt") == hashlib.sha256(b"inside a.txt").hexdigest()


def test_a_fingerprint_changes_with_any_byte_or_name_but_not_with_hidden_files(folder: Path) -> None:
    seen = {assets.fingerprint(folder)}
    (folder / "deep" / ".other").write_text("left behind by an editor")
    assert assets.fingerprint(folder) in seen
    (folder / "a.txt").write_text("inside A.txt")
    seen.add(assets.fingerprint(folder))
    (folder / "b.txt").rename(folder / "c.txt")
    seen.add(assets.fingerprint(folder))
    (folder / "deep" / "er" / "c.txt").unlink()
    seen.add(assets.fingerprint(folder))
    assert len(seen) == 4


def test_a_fingerprint_of_nothing_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="missing"):
        assets.fingerprint(tmp_path / "missing")
