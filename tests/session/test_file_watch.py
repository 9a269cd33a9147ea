"""The watch on a file tells what somebody else has changed, when that is done, and nothing else."""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.screens.music import TWIN, Folder
from trainer.session.file_watch import FileChanged, FileRead, FileWatch, stamp_of

NEVER = 1e6


class Watched:
    """A watch whose looks the test takes."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "salt-road.md"
        self.path.write_text(TWIN, encoding="utf-8")
        self.folder = Folder(folder)
        self.told: list[FileChanged] = []
        self.it = FileWatch(self.folder.read, self.folder.find, self.told.append, NEVER)
        self.it.watch("salt-road", FileRead(self.path, stamp_of(self.path)))

    def write(self, text: str) -> None:
        self.path.write_text(text, encoding="utf-8")

    def look(self, times: int = 2) -> None:
        for _ in range(times):
            self.it.look()


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    made = Watched(tmp_path)
    yield made
    made.it._closing.set()


def test_nothing_is_told_of_a_file_that_stays_as_it_is(watched: Watched) -> None:
    watched.look(5)
    assert watched.told == []


def test_a_change_is_told_once_with_what_the_file_has_now(watched: Watched) -> None:
    watched.write(TWIN.replace("Salt Road", "Pepper Road"))
    watched.look(5)
    (found,) = watched.told
    assert (found.id, found.file, found.problem) == ("salt-road", "salt-road.md", "")
    assert found.exercise is not None and found.exercise.title == "Pepper Road"


def test_a_file_that_is_being_written_is_waited_for(watched: Watched) -> None:
    for length in (100, 300, 700):
        watched.write(TWIN[:length])
        watched.look(1)
    watched.write(TWIN + "\nMore words.\n")
    watched.look(1)
    assert watched.told == []
    watched.look(1)
    assert [found.problem for found in watched.told] == [""]


def test_a_file_that_an_editor_puts_in_its_place_is_a_change(watched: Watched, tmp_path: Path) -> None:
    new = tmp_path / "new"
    new.write_text(TWIN.replace("start = 100", "start = 101"), encoding="utf-8")
    os.utime(new, ns=(watched.path.stat().st_mtime_ns,) * 2)
    new.replace(watched.path)
    watched.look()
    assert len(watched.told) == 1


def test_a_broken_file_is_told_with_the_place_and_the_mended_one_after_it(watched: Watched) -> None:
    watched.write(TWIN.replace("count | 1 & 2 & 3 & 4 & |", "count | 1 & 9 & 3 & 4 & |", 1))
    watched.look()
    assert watched.told[0].exercise is None
    assert watched.told[0].problem.startswith("salt-road.md:") and "9" in watched.told[0].problem
    watched.write(TWIN)
    watched.look()
    assert watched.told[1].exercise is not None


def test_what_we_write_ourselves_is_no_news_and_what_follows_is(watched: Watched) -> None:
    ours, theirs = TWIN.replace("third above", "sixth above"), TWIN.replace("third above", "fifth above")
    watched.it.expect(watched.path, ours)
    watched.write(ours)
    watched.look()
    assert watched.told == []
    watched.write(theirs)
    watched.look()
    watched.write(ours)
    watched.look()
    assert len(watched.told) == 2


def test_somebody_who_writes_over_what_we_wrote_is_told(watched: Watched) -> None:
    watched.it.expect(watched.path, TWIN.replace("third above", "sixth above"))
    watched.write(TWIN.replace("third above", "fifth above"))
    watched.look()
    assert len(watched.told) == 1


def test_writing_into_a_copy_moves_the_watch_there(watched: Watched, tmp_path: Path) -> None:
    copy = tmp_path / "own.md"
    watched.it.expect(copy, TWIN)
    watched.look(1)
    copy.write_text(TWIN, encoding="utf-8")
    watched.look()
    assert watched.told == []
    copy.write_text(TWIN + "More.\n", encoding="utf-8")
    watched.look()
    assert [found.file for found in watched.told] == ["own.md"]


def test_a_renamed_file_is_found_again_and_a_removed_one_is_told_once(watched: Watched, tmp_path: Path) -> None:
    moved = tmp_path / "renamed.md"
    watched.path.rename(moved)
    watched.look(5)
    moved.write_text(TWIN + "More.\n", encoding="utf-8")
    watched.look()
    assert {found.file for found in watched.told} == {"renamed.md"}
    watched.told.clear()
    moved.unlink()
    watched.look(40)
    assert [found.problem for found in watched.told] == ["renamed.md: this file is gone."]


def test_the_thread_looks_by_itself_and_ends(tmp_path: Path) -> None:
    watched = Watched(tmp_path)
    quick = FileWatch(watched.folder.read, watched.folder.find, watched.told.append, 0.01)
    quick.watch("salt-road", FileRead(watched.path, stamp_of(watched.path)))
    watched.write(TWIN + "\nMore words.\n")
    end = time.monotonic() + 60
    while not watched.told:
        assert time.monotonic() < end
        time.sleep(0.01)
    quick.close()
    assert quick._thread is not None and not quick._thread.is_alive()
    watched.it._closing.set()
