"""The index: what it remembers, a screenful of it without the rest, and when it is not to be trusted."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.notation.head import Head
from trainer.notation.index import Known, glimpse, load, text_of
from trainer.notation.library import Library
from trainer.notation.titles import by_title

OF = "these folders"
TEXTS = st.text(max_size=12)
TEMPOS = st.floats(0, 400)
TEXT = """+++
title = "{title}"
tempo = 120
+++
"""


def shelf(count: int) -> Known:
    """Exercises whose titles are in another order than their files, and a file that is none."""
    files = [f"/s/{number}.md" for number in range(count)]
    known: Known = {
        file: ((number, 9), Head(file, f"i{number}", f"T {count - number:05}", tags=("a", "b"), riffs=("Low",)))
        for number, file in enumerate(files)
    }
    return {"/s/README.md": ((7, 7), None)} | known


@given(
    st.lists(
        st.builds(
            Head,
            TEXTS,
            TEXTS,
            TEXTS,
            start_bpm=TEMPOS,
            target_bpm=TEMPOS,
            tags=st.lists(TEXTS).map(tuple),
            riffs=st.lists(TEXTS).map(tuple),
        ),
        unique_by=lambda head: head.file,
    )
)
def test_what_is_written_is_read_again(heads: list[Head]) -> None:
    known: Known = {head.file: ((1, 2), head) for head in heads}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "index"
        path.write_text(text_of(known, OF), "utf-8")
        assert load(path) == (known, OF)
        seen = glimpse(path, OF, around=10_000)
    assert seen is not None
    assert seen.whole
    assert seen.heads == tuple(heads)


@pytest.mark.parametrize("count", [0, 1, 5, 19, 20, 21, 60])
def test_a_glimpse_is_what_stands_around_an_exercise_in_the_order_of_titles(tmp_path: Path, count: int) -> None:
    path, known = tmp_path / "index", shelf(count)
    path.write_text(text_of(known, OF), "utf-8")
    in_order = sorted((head for _, head in known.values() if head), key=by_title)
    for at, head in enumerate(in_order):
        seen = glimpse(path, OF, head.file, around=10)
        assert seen is not None
        begin = max(0, at - 10) if count > 10 else 0
        assert seen.before == begin
        assert sorted(seen.heads, key=by_title) == in_order[begin : begin + 20]
        assert seen.total == count
        assert seen.whole == (count <= 20 and begin == 0)


def test_a_glimpse_of_what_is_unknown_begins_at_the_beginning(tmp_path: Path) -> None:
    path = tmp_path / "index"
    path.write_text(text_of(shelf(50), OF), "utf-8")
    seen = glimpse(path, OF, "/gone.md", around=10)
    assert seen is not None
    assert (seen.before, len(seen.heads), seen.total) == (0, 20, 50)


def test_a_glimpse_of_other_folders_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "index"
    assert glimpse(path, OF) is None
    path.write_text(text_of(shelf(3), OF), "utf-8")
    assert glimpse(path, "other folders") is None


@pytest.mark.parametrize("junk", ["", "{}", "[1]", '{"version":2,"of":"these folders","count":1}\n', "\x00", "\u00e9"])
def test_a_damaged_index_gives_nothing(tmp_path: Path, junk: str) -> None:
    path = tmp_path / "index"
    path.write_text(junk, "utf-8")
    assert glimpse(path, OF) is None
    assert load(path) == ({}, "")


def test_a_cut_index_gives_nothing_wrong(tmp_path: Path) -> None:
    path, known = tmp_path / "index", shelf(30)
    text = text_of(known, OF)
    for length in range(0, len(text), 37):
        path.write_text(text[:length], "utf-8")
        seen = glimpse(path, OF)
        assert seen is None or seen.whole  # the last line is of a file that is no exercise
        assert load(path)[0].items() <= known.items()


def test_the_index_follows_the_folders_and_keeps_their_order(tmp_path: Path) -> None:
    index, folder = tmp_path / "index", tmp_path / "shelf"
    folder.mkdir()
    for name, title in (("a", "Zither"), ("b", "Anvil")):
        (folder / f"{name}.md").write_text(TEXT.format(title=title), "utf-8")
    assert [head.title for head in Library([folder], index, OF).heads()] == ["Zither", "Anvil"]
    assert [head.title for head in Library([folder], index, OF).heads()] == ["Zither", "Anvil"]
    seen = glimpse(index, OF)
    assert seen is not None
    assert [head.title for head in seen.heads] == ["Zither", "Anvil"]
    (folder / "a.md").unlink()
    Library([folder], index, OF).heads()
    seen = glimpse(index, OF)
    assert seen is not None
    assert [head.title for head in seen.heads] == ["Anvil"]


def test_other_settings_make_the_index_anew_even_where_the_files_are_the_same(tmp_path: Path) -> None:
    index = tmp_path / "index"
    (tmp_path / "a.md").write_text(TEXT.format(title="Anvil"), "utf-8")
    Library([tmp_path], index, OF).heads()
    Library([tmp_path], index, "later").heads()
    assert glimpse(index, OF) is None
    assert glimpse(index, "later") is not None
