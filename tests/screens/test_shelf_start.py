"""The shelf's first picture: from the index at once, and put right by the files and the log a moment later."""

import random
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from tests.open_logs import closed_later
from tests.practice.made import clock
from tests.screens.record_stage import LOW_ROAD, NOON, Files, Stage, played, practise, stage
from tests.screens.settling import settled
from trainer.music.problem import Problem
from trainer.notation.head import Head
from trainer.practice.log import Log
from trainer.practice.opening import SMALL_BYTES
from trainer.practice.verdict import CLEAN
from trainer.screens import application
from trainer.screens.drawing.ink import CellRow
from trainer.screens.shelf import ShelfScreen
from trainer.screens.widgets.page_lines import PageTop
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel
from trainer.session.memory import SHELF_EXERCISE, SHELF_SEARCH

EXERCISE = """+++
title = "{title}"
key = "E aeolian"
tags = ["gallop"]
tempo = {{ start = 90, target = 120 }}
+++
"""


class Held:
    """Things that a test holds back until it lets them go."""

    def __init__(self) -> None:
        self.files, self.log = threading.Event(), threading.Event()

    def free(self) -> None:
        self.files.set()
        self.log.set()


@pytest.fixture
def held() -> Any:
    made = Held()
    yield made
    made.free()


class HeldFiles(Files):
    """Files that are looked through as soon as they are let go."""

    def __init__(self, held: Held, *more: Any) -> None:
        super().__init__(*more)
        self._held = held

    def heads(self) -> Sequence[Head]:
        self._held.files.wait(30)
        return super().heads()


def again(folder: Path, held: Held | None = None, **more: Any) -> Stage:
    """The next start of the same player."""
    made = stage(folder, index=folder / "index", memory=folder / "memory.json", **more)
    if held is None:
        return made
    log = made.log

    def open_log() -> Any:
        if threading.current_thread() is not threading.main_thread():
            held.log.wait(30)
        return log

    files = HeldFiles(held, list(made.machine.exercises.folders), folder / "index")  # type: ignore[attr-defined]
    made.machine = replace(made.machine, exercises=files, open_log=open_log)
    return made


async def started(folder: Path, **more: Any) -> None:
    """A start before, which leaves an index."""
    before = again(folder, **more)
    async with before.app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
    before.log.close()


def shelf_of(pilot: Pilot[None]) -> ShelfScreen:
    screen = pilot.app.screen
    assert isinstance(screen, ShelfScreen)
    return screen


def titles(pilot: Pilot[None]) -> list[str]:
    return [entry.head.title for entry in shelf_of(pilot).shown]


def rows(pilot: Pilot[None]) -> list[str]:
    return [row.text.rstrip() for row in shelf_of(pilot).query_one(RowList).rows]


def top(pilot: Pilot[None]) -> str:
    return shelf_of(pilot).query_one(PageTop).rows[0].text


async def until(pilot: Pilot[None], holds: Callable[[], bool]) -> None:
    for _ in range(400):
        if holds():
            return
        await pilot.pause(0.02)
    raise AssertionError("it did not come to hold")


async def test_the_first_picture_has_the_list_before_any_file_or_the_log_is_read(tmp_path: Path, held: Held) -> None:
    first = again(tmp_path)
    practise(first.log)
    first.log.close()
    await started(tmp_path)
    async with again(tmp_path, held).app().run_test(size=(120, 30)) as pilot:
        await pilot.pause()
        assert "Iron Causeway" in titles(pilot)
        iron = next(row for row in rows(pilot) if "Iron Causeway" in row)
        assert "168" in iron
        assert "129" not in iron
        assert " - " not in iron  # nobody has said yet that it was not played
        assert f"{len(titles(pilot))} exercises" in top(pilot)
        held.log.set()
        await until(pilot, lambda: "129" in next(row for row in rows(pilot) if "Iron Causeway" in row))
        assert not shelf_of(pilot).contents.looked_through
        held.free()


async def test_the_first_picture_and_the_last_are_the_same_where_nothing_changed(tmp_path: Path) -> None:
    await started(tmp_path)
    pictures: list[tuple[CellRow, ...]] = []
    ready = again(tmp_path)
    app = ready.app()
    async with app.run_test(size=(120, 30)) as pilot:
        shelf = shelf_of(pilot)
        pictures.append(shelf.query_one(RowList).rows)
        await settled(pilot)
        pictures.append(shelf.query_one(RowList).rows)
    kept = [[row.text[:56] for row in picture] for picture in pictures]
    assert kept[0] == kept[1]
    assert len(kept[0]) > 10


async def test_files_that_came_and_went_since_the_index_was_written_are_put_right(tmp_path: Path, held: Held) -> None:
    ready = again(tmp_path)
    gone = ready.write("gone.md", EXERCISE.format(title="Gone Since"))
    changed = ready.write("changed.md", EXERCISE.format(title="Old Name"))
    ready.log.close()
    await started(tmp_path)
    gone.unlink()
    changed.write_text('+++\ntitle = "New Name Now"\ntempo = "fast"\n+++\n', "utf-8")
    (tmp_path / "mine" / "new.md").write_text(EXERCISE.format(title="Just Written"), "utf-8")
    async with again(tmp_path, held).app().run_test(size=(120, 30)) as pilot:
        await pilot.pause()
        assert "Gone Since" in titles(pilot)
        held.free()
        await until(pilot, lambda: "Just Written" in titles(pilot))
        assert "Gone Since" not in titles(pilot)
        assert "Old Name" not in titles(pilot)
        broken = next(entry for entry in shelf_of(pilot).shown if entry.head.title == "New Name Now")
        assert '"tempo" must be a number' in broken.wrong


async def test_a_great_shelf_begins_with_a_screenful_around_the_chosen_exercise(tmp_path: Path, held: Held) -> None:
    ready = again(tmp_path, own=False)
    for number in range(400):
        ready.write(f"{number}.md", EXERCISE.format(title=f"Bench {number:03}"))
    ready.machine.memory.put(SHELF_EXERCISE, str(tmp_path / "mine" / "300.md"))
    ready.log.close()
    await started(tmp_path, own=False)
    async with again(tmp_path, held, own=False).app().run_test(size=(120, 30)) as pilot:
        await pilot.pause()
        shelf = shelf_of(pilot)
        assert shelf.chosen is not None
        assert shelf.chosen.head.title == "Bench 300"
        assert "400 exercises" in top(pilot)
        assert "301 of 400" in shelf.query_one("#filters", DrawnPanel).rows[0].text
        before = rows(pilot)
        held.free()
        await until(pilot, lambda: len(shelf.shown) == 400)
        assert shelf.chosen.head.title == "Bench 300"
        assert [row[:40] for row in rows(pilot)] == [row[:40] for row in before]  # nothing jumps


async def test_what_was_looked_for_is_kept_shown_and_cleared_by_one_key(tmp_path: Path) -> None:
    async with again(tmp_path).app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        everything = len(titles(pilot))
        await pilot.press("f7", "down", "enter", *"e", "ctrl+o", "down", "down", "enter")
        await settled(pilot)
        narrowed, wanted = titles(pilot), shelf_of(pilot).wanted
        assert 0 < len(narrowed) < everything
    async with again(tmp_path).app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        shelf = shelf_of(pilot)
        assert shelf.wanted == wanted
        assert titles(pilot) == narrowed
        assert shelf.query_one(Input).value == "e"
        assert wanted.key in shelf.query_one("#filters", DrawnPanel).rows[0].text
        assert f"{len(narrowed)} shown, esc shows all" in top(pilot)
        await pilot.press("escape")
        assert len(titles(pilot)) == everything
        assert "shows all" not in top(pilot)
    async with again(tmp_path).app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        assert len(titles(pilot)) == everything
        assert shelf_of(pilot).wanted.order == "target"


async def test_typing_replaces_what_was_typed_at_the_start_before(tmp_path: Path) -> None:
    async with again(tmp_path).app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        await pilot.press(*"keel")
        assert titles(pilot) == ["Keel Down", "Under the Keel"]
    async with again(tmp_path).app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        assert titles(pilot) == ["Keel Down", "Under the Keel"]
        await pilot.press(*"heron")
        assert titles(pilot) == ["Heron Steps"]


async def test_nothing_is_written_where_nothing_was_looked_for_or_chosen(tmp_path: Path) -> None:
    ready = again(tmp_path, own=False)
    async with ready.app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
    assert not (tmp_path / "memory.json").exists()


async def test_just_what_is_due_waits_for_the_log_and_not_for_the_files(tmp_path: Path, held: Held) -> None:
    ready = again(tmp_path)
    ready.log.add(played(random.Random(1), LOW_ROAD, NOON - timedelta(days=30), 100, CLEAN))
    ready.machine.memory.put(SHELF_SEARCH, {"due": True})
    ready.log.close()
    await started(tmp_path)
    async with again(tmp_path, held).app().run_test(size=(120, 30)) as pilot:
        await pilot.pause()
        assert titles(pilot) == []
        assert "looking for exercises" in top(pilot)
        held.log.set()
        await until(pilot, lambda: titles(pilot) == ["Iron Causeway"])
        held.free()


async def test_a_filter_of_the_last_start_that_finds_nothing_says_how_to_see_all(tmp_path: Path) -> None:
    ready = again(tmp_path)
    ready.machine.memory.put(SHELF_SEARCH, {"tag": "no such tag", "band": "no such band", "order": ["x"], "due": 3})
    async with ready.app().run_test(size=(120, 30)) as pilot:
        await settled(pilot)
        assert titles(pilot) == []
        assert "0 shown, esc shows all" in top(pilot)
        await pilot.press("escape")
        assert len(titles(pilot)) > 10


async def test_of_two_files_with_one_id_the_first_picture_hides_the_right_one(tmp_path: Path, held: Held) -> None:
    ready = again(tmp_path)
    for name, title in (("a", "Zither"), ("b", "Anvil")):
        ready.write(f"{name}.md", EXERCISE.format(title=title).replace("key", 'id = "same"\nkey', 1))
    ready.log.close()
    await started(tmp_path)
    async with again(tmp_path, held).app().run_test(size=(120, 30)) as pilot:
        await pilot.pause()
        assert "another file has this id" in next(row for row in rows(pilot) if "Anvil" in row)
        assert "another file has this id" not in next(row for row in rows(pilot) if "Zither" in row)
        held.free()


async def test_a_log_too_large_to_check_at_the_start_is_checked_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, told = tmp_path / "log.sqlite", list[Problem]()
    with Log.open(path, now=clock) as log:
        log.change(lambda db: db.execute("CREATE TABLE ballast AS SELECT randomblob(5000000) AS x"))
    content = bytearray(path.read_bytes())
    content[-4096 * 50 : -4096 * 40] = bytes(4096 * 10)
    path.write_bytes(content)
    assert len(content) > SMALL_BYTES
    monkeypatch.setattr(application, "LOG_CARE_SECONDS", 0.01)
    log = closed_later(Log.open(path, now=clock, tell=told.append))
    assert not told
    made = stage(tmp_path)
    made.machine = replace(made.machine, open_log=lambda: log)
    async with made.app().run_test(size=(120, 30)) as pilot:
        await until(pilot, lambda: bool(told))
    assert "The practice log is damaged" in str(told[0])
