"""Finding exercises: by id, by path, quickly, and again when they change."""

import os
from pathlib import Path

import pytest

from tests.notation.iron import IRON
from trainer.music.problem import ProblemsError
from trainer.notation.library import Library


def _write(path: Path, text: str = IRON) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


def test_exercises_are_found_by_id_by_file_name_and_by_path(tmp_path: Path) -> None:
    named = _write(tmp_path / "a" / "iron.md")
    own = _write(tmp_path / "a" / "file.md", IRON.replace("key = ", 'id = "causeway"\nkey = ', 1))
    library = Library([tmp_path / "a"])
    assert library.find("iron") == named
    assert library.find("causeway") == own
    assert library.find(str(own)) == own
    with pytest.raises(ProblemsError, match=r'no exercise is called "ion".*Did you mean "iron"'):
        library.find("ion")


def test_the_players_own_file_comes_before_the_bundled_one(tmp_path: Path) -> None:
    mine, theirs = _write(tmp_path / "mine" / "iron.md"), _write(tmp_path / "bundled" / "iron.md")
    assert Library([mine.parent, theirs.parent]).find("iron") == mine


def test_what_has_no_front_matter_is_no_exercise(tmp_path: Path) -> None:
    _write(tmp_path / "README.md", "# The exercises\n")
    _write(tmp_path / ".hidden.md")
    assert Library([tmp_path]).heads() == ()


def test_a_broken_file_stays_visible_with_its_error(tmp_path: Path) -> None:
    _write(tmp_path / "bad.md", IRON.replace('title = "Iron', 'titel = "Iron'))
    (tmp_path / "worse.md").write_bytes(b"+++\n\xff")
    bad, worse = Library([tmp_path]).heads()
    assert 'bad.md:2:1: "titel" is not a key' in bad.problem
    assert "not UTF-8" in worse.problem


def test_changed_files_are_read_again_and_the_index_is_used(tmp_path: Path) -> None:
    path = _write(tmp_path / "iron.md")
    index = tmp_path / "cache" / "index.json"
    assert Library([tmp_path], index).heads()[0].title == "Iron Causeway"
    remembered = path.stat()
    # The same size and time: the index answers, which only a test would notice.
    path.write_text(IRON.replace("Iron", "Lead"))
    os.utime(path, ns=(remembered.st_atime_ns, remembered.st_mtime_ns))
    assert Library([tmp_path], index).heads()[0].title == "Iron Causeway"
    os.utime(path)
    assert Library([tmp_path], index).heads()[0].title == "Lead Causeway"


@pytest.mark.parametrize(
    "junk", ["", "{}", '{"version": 1, "files": {"a": [1]}}', '{"version": 1, "files": []}', "\x00"]
)
def test_a_damaged_index_is_read_anew(tmp_path: Path, junk: str) -> None:
    _write(tmp_path / "iron.md")
    index = tmp_path / "index.json"
    index.write_text(junk)
    assert Library([tmp_path], index).heads()[0].id == "iron"


def test_escape_sequences_in_names_are_shown_as_codes(tmp_path: Path) -> None:
    _write(tmp_path / "a\x1b[31m.md", IRON.replace('title = "Iron Causeway"', 'title = "\\u001b[2J"'))
    head = Library([tmp_path]).heads()[0]
    assert "\x1b" not in head.id + head.title + head.problem
