"""New exercises and the player's editor: names, copies, and plain sentences where there is none."""

from pathlib import Path

import pytest

from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.screens.own_files import NoEditorError, begin, editor_words, id_of, own_copy, own_path
from trainer.session.own_machine import own_file


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    for name in ("VISUAL", "EDITOR"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def test_a_new_exercise_can_be_read_and_has_a_gallop(home: Path) -> None:
    path = begin("  Grey   Mole ")
    assert path == home / "twinspur" / "exercises" / "grey-mole.md"
    made = read_file(path)
    assert (made.title, made.part_names) == ("Grey Mole", ("guitar 1", "guitar 2"))
    assert "1 & a" in path.read_text("utf-8")
    with pytest.raises(ValueError, match="exists already"):
        begin("Grey Mole")


@pytest.mark.parametrize("title", ["", "¡!", "x" * 81, "a\x1b[31mb", "../.."])
def test_a_title_that_names_no_file_is_refused(title: str) -> None:
    with pytest.raises(ValueError, match="A title has"):
        id_of(title)


def test_a_bundled_exercise_is_copied_once_and_stays_as_it_is() -> None:
    source = bundled("exercises") / "iron-causeway.md"
    before = source.read_bytes()
    copy = own_copy(source, own_file(source))
    assert copy == own_path("iron-causeway") and copy.read_bytes() == before
    copy.write_text("mine")
    assert own_copy(source, own_file(source)).read_text() == "mine"
    assert own_copy(copy, own_file(copy)) == copy
    assert source.read_bytes() == before


def test_the_players_editor_is_what_the_variables_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EDITOR", "sh -c 'exit 0'")
    assert editor_words() == ["sh", "-c", "exit 0"]
    monkeypatch.setenv("VISUAL", "true")
    assert editor_words() == ["true"]


@pytest.mark.parametrize("named", ["no-such-editor", "'", "\x00", "-"])
def test_an_editor_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch, named: str) -> None:
    monkeypatch.setattr("trainer.screens.own_files.os.environ", {"EDITOR": named})
    with pytest.raises(NoEditorError, match="EDITOR names no program"):
        editor_words()


def test_no_editor_at_all_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.screens.own_files.shutil.which", lambda name: None)
    with pytest.raises(NoEditorError, match="Set EDITOR"):
        editor_words()
