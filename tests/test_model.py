"""The speech model: found, fetched, and named when something is wrong with it."""

from __future__ import annotations

import os
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from assistant.cli import build, run
from assistant.core.trouble import BadInput, Missing
from assistant.ears import fetch, grammar, lexicon, model, strict


@pytest.fixture
def home(tmp_path, monkeypatch) -> Path:
    """A user's data folder that is empty."""
    place = tmp_path / "home" / "model"
    monkeypatch.setattr(model, "home", lambda: place)
    monkeypatch.delenv(model.VARIABLE, raising=False)
    return place


@pytest.fixture
def copy(speech_model, tmp_path) -> Path:
    """A copy of the model that may be damaged."""
    return Path(shutil.copytree(speech_model, tmp_path / "copy"))


@pytest.mark.usefixtures("home")
def test_no_model_names_every_way_out() -> None:
    with pytest.raises(Missing) as trouble:
        model.find()
    for way in ("model fetch", "--from", "--model", model.VARIABLE, "--typed"):
        assert way in str(trouble.value)


@pytest.mark.usefixtures("home")
def test_a_folder_that_was_named_and_is_not_there_is_named(tmp_path) -> None:
    with pytest.raises(Missing, match="no-such-folder"):
        model.find(tmp_path / "no-such-folder")


def test_without_a_network_fetching_says_what_to_do(home, monkeypatch, capsys) -> None:
    for name in ("PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS", "PIP_NO_INDEX"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/")  # nothing answers there
    assert run(["model", "fetch"]) == Missing.exit_code
    said = " ".join(capsys.readouterr().err.split())
    assert "the package index can't be reached" in said
    assert "--from" in said
    assert list(home.parent.iterdir()) == []


def test_a_damaged_model_is_shown_with_its_cure(copy, capsys) -> None:
    (copy / "am" / "final.mdl").unlink()
    assert run(["model", "--model", str(copy)]) == BadInput.exit_code
    said = " ".join(capsys.readouterr().err.split())
    assert "am/final.mdl is missing" in said
    assert "model fetch" in said


FILES = ("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "conf/mfcc.conf", "ivector/final.ie")


@pytest.mark.parametrize("name", FILES)
def test_a_missing_file_is_found_and_named(copy, name) -> None:
    (copy / name).unlink()
    with pytest.raises(BadInput, match=name):
        model.find(copy)


def test_a_renamed_file_is_missed_under_its_own_name(copy) -> None:
    (copy / "graph" / "HCLr.fst").rename(copy / "graph" / "HCLR-old.fst")
    with pytest.raises(BadInput, match=r"graph/HCLr\.fst is missing"):
        model.find(copy)


def test_a_truncated_file_is_found_by_the_manifest(copy) -> None:
    model.write_manifest(copy, "a test")
    assert model.damage(copy, thorough=True) is None
    file = copy / "am" / "final.mdl"
    file.write_bytes(file.read_bytes()[:-1000])
    assert "am/final.mdl" in str(model.damage(copy))


def test_a_changed_byte_is_found_by_a_thorough_look(copy) -> None:
    model.write_manifest(copy, "a test")
    with (copy / "graph" / "HCLr.fst").open("r+b") as file:
        file.seek(100_000)
        file.write(b"\0\1\2\3")
    assert model.damage(copy) is None
    assert "graph/HCLr.fst" in str(model.damage(copy, thorough=True))


def test_another_kind_of_file_or_folder_is_refused_with_a_reason(copy, tmp_path) -> None:
    (copy / "graph" / "Gr.fst").write_bytes(b"no graph at all")
    assert "not what its name says" in str(model.damage(copy))
    (tmp_path / "empty").mkdir()
    assert "no Vosk model" in str(model.damage(tmp_path / "empty"))
    static = tmp_path / "static" / "graph"
    static.mkdir(parents=True)
    (static / "HCLG.fst").write_bytes(b"x")
    assert "static graph" in str(model.damage(tmp_path / "static"))


def test_a_model_comes_from_a_folder_or_a_zip_file(speech_model, home, tmp_path) -> None:
    assert fetch.take(speech_model) == home
    assert model.find() == home.resolve()
    packed = tmp_path / "model.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for name in model.files_of(speech_model):
            archive.write(speech_model / name, f"some-model/{name}")
    fetch.take(packed)
    assert model.damage(home, thorough=True) is None


def small_wheel(speech_model: Path, to: Path) -> Path:
    """A package like the one that carries the model, with code in it, too."""
    with zipfile.ZipFile(to, "w") as archive:
        archive.writestr("videogrep/__init__.py", "raise SystemExit('this must not be run')")
        for name in model.files_of(speech_model):
            archive.write(speech_model / name, f"{fetch.SPEECH.inside}{name}")
    return to


def test_of_the_package_only_the_files_of_the_model_are_taken(speech_model, home, tmp_path, monkeypatch) -> None:
    wheel = small_wheel(speech_model, tmp_path / "package.whl")
    monkeypatch.setattr(fetch, "SPEECH", replace(fetch.SPEECH, sha256=model.sha256(wheel)))
    fetch.take(wheel)
    assert sorted(model.files_of(home)) == sorted(model.files_of(speech_model))
    assert model.state(home).origin == fetch.SPEECH.name


def test_a_package_with_another_checksum_is_refused(speech_model, home, tmp_path) -> None:
    with pytest.raises(BadInput, match="SHA-256"):
        fetch.take(small_wheel(speech_model, tmp_path / "package.whl"))
    assert not home.exists()


def test_a_file_name_that_leads_out_of_the_folder_is_refused(home, tmp_path) -> None:
    with zipfile.ZipFile(tmp_path / "model.zip", "w") as archive:
        archive.writestr("model/am/final.mdl", "x")
        archive.writestr("model/../../outside", "x")
    with pytest.raises(BadInput, match="leads out of it"):
        fetch.take(tmp_path / "model.zip")
    assert not any(tmp_path.rglob("outside"))
    assert not home.exists()


def test_a_model_that_can_not_replace_the_old_one_leaves_it_there(speech_model, home, tmp_path) -> None:
    fetch.take(speech_model)
    with zipfile.ZipFile(tmp_path / "half.zip", "w") as archive:
        archive.write(speech_model / "am" / "final.mdl", "model/am/final.mdl")
    with pytest.raises(BadInput, match="missing"):
        fetch.take(tmp_path / "half.zip")
    assert model.damage(home, thorough=True) is None


def test_a_file_that_holds_no_model_is_refused(home, tmp_path) -> None:
    (tmp_path / "text.txt").write_text("no model")
    with pytest.raises(BadInput):
        fetch.take(tmp_path / "text.txt")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("readme", "no model")
    with pytest.raises(BadInput):
        fetch.take(tmp_path / "other.zip")
    assert not home.exists()


def test_a_file_that_breaks_the_native_library_becomes_a_sentence(copy, tmp_path) -> None:
    (copy / model.MANIFEST).unlink(missing_ok=True)
    file = copy / "am" / "final.mdl"
    file.write_bytes(file.read_bytes()[:5_000_000])
    with pytest.raises(BadInput, match="can't be loaded"):
        strict.prepare(copy, build.language(), grammar.compile_acceptor, tmp_path / "strict")


@pytest.mark.parametrize("kept", [2_000_000, 100, 8])
def test_a_grammar_of_the_model_that_is_cut_off_becomes_a_sentence(copy, tmp_path, kept) -> None:
    (copy / model.MANIFEST).unlink(missing_ok=True)
    file = copy / "graph" / "Gr.fst"
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(BadInput, match="damaged"):
        strict.prepare(copy, build.language(), grammar.compile_acceptor, tmp_path / "strict")


def test_a_compiled_grammar_that_was_spoilt_is_built_again(speech_model, tmp_path) -> None:
    ready = strict.prepare(speech_model, build.language(), grammar.compile_acceptor)
    shutil.copytree(ready, tmp_path / ready.name, symlinks=True)
    compiled = ready / "graph" / "Gr.fst"
    calls: list[Path] = []

    def compiled_before(_language, _words, _background, out: Path) -> None:
        calls.append(out)
        shutil.copyfile(compiled, out)

    def prepare() -> Path:
        return strict.prepare(speech_model, build.language(), compiled_before, tmp_path) / "graph" / "Gr.fst"

    graph = prepare()
    assert calls == []  # a whole one is used as it is
    os.truncate(graph, 20_000)
    assert prepare().read_bytes() == compiled.read_bytes()
    graph.unlink()
    assert prepare().read_bytes() == compiled.read_bytes()
    assert len(calls) == 2
    assert [folder.name for folder in tmp_path.iterdir()] == [ready.name]


def test_every_word_of_the_grammar_is_known_to_the_model_or_has_a_stand_in(speech_model) -> None:
    known = lexicon.read(speech_model)
    language = build.language()
    for word in language.words - known.ids.keys():
        spellings = language.stand_ins.get(word, ())
        assert any(all(part in known.ids for part in way.split()) for way in spellings) or any(
            word in way.split() for ways in language.stand_ins.values() for way in ways
        ), word


def test_the_commonest_words_of_the_model_are_those_of_english(speech_model) -> None:
    # The commonest written English words, from memory of any frequency list.
    common = [word for word, _ in lexicon.read(speech_model).commonest(50)]
    assert {"the", "and", "to", "of", "a", "in"} <= set(common)
