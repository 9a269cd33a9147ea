"""The shelf on the screen: found by typing, narrowed by filters, read again as files change, opened by key or mouse."""

import os
import random
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from tests.screens.record_stage import LOW_ROAD, NOON, Stage, played, practise, stage
from tests.screens.settling import notices, settled
from trainer.practice.verdict import CLEAN
from trainer.screens import shelf_reading
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.pen import ASCII
from trainer.screens.help_page import HelpPage
from trainer.screens.logbook import LogbookScreen
from trainer.screens.shelf import ShelfScreen
from trainer.screens.stand import StandScreen
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import DrawnPanel, Rows

EXERCISE = """+++
title = "{title}"
key = "E aeolian"
tags = ["gallop"]
tempo = {{ start = 90, target = 120 }}
+++

## One

```tab guitar 1
count | 1 2 3 4 |
6     | 0 0 0 {fret} |
```
"""


async def opened(pilot: Pilot[None]) -> ShelfScreen:
    screen = pilot.app.screen
    assert isinstance(screen, ShelfScreen)
    await settled(pilot)
    return screen


def listed(screen: ShelfScreen) -> list[str]:
    return [entry.head.title for entry in screen.shown]


def text_of(screen: ShelfScreen) -> str:
    rows = (*screen.query_one(RowList).rows, *screen.query_one("#detail", DrawnPanel).rows)
    return "\n".join(row.text.rstrip() for row in rows)


@pytest.fixture
def ready(tmp_path: Path) -> Stage:
    return stage(tmp_path)


async def test_a_question_mark_asks_for_help_and_is_not_typed_into_the_line(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press("g", "question_mark")
        await pilot.pause()
        assert isinstance(pilot.app.screen, HelpPage)
        await pilot.press("question_mark")
        await pilot.pause()
        assert pilot.app.screen is shelf and shelf.query_one("#find", Input).value == "g"


async def test_every_bundled_exercise_is_listed_with_what_the_record_says(ready: Stage) -> None:
    practise(ready.log)
    async with ready.app().run_test(size=(120, 30)) as pilot:
        shelf = await opened(pilot)
        assert "Iron Causeway" in listed(shelf)
        row = next(row.text for row in shelf.query_one(RowList).rows if "Iron Causeway" in row.text)
        assert "168" in row
        assert "129" in row


async def test_typing_finds_and_escape_shows_everything_again(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        everything = listed(shelf)
        await pilot.press(*"etude")
        assert listed(shelf) == ["The Long Watch"]
        await pilot.press("escape")
        assert listed(shelf) == everything
        assert shelf.query_one(Input).value == ""


async def test_up_down_windows_first_and_last_while_typing_goes_on(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        rows = shelf.query_one(RowList)
        await pilot.press("down", "down", "up")
        assert rows.cursor == 1
        await pilot.press("pagedown")
        assert rows.cursor == rows.size.height
        await pilot.press("pageup", "ctrl+end")
        assert rows.cursor == len(shelf.shown) - 1
        await pilot.press("ctrl+home", *"keel")
        assert listed(shelf) == ["Keel Down", "Under the Keel"]


async def test_the_cursor_stays_on_its_exercise(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press("ctrl+end")
        assert shelf.chosen is not None
        title = shelf.chosen.head.title
        await pilot.press(*"keel")
        assert shelf.chosen.head.title == title == "Under the Keel"
        await pilot.press("escape")
        assert shelf.chosen.head.title == title


@pytest.mark.parametrize(
    ("key", "down", "told"),
    [("f6", 1, "twin leads"), ("f7", 1, "A aeolian"), ("f8", 2, "100 to 129 bpm")],
)
async def test_filters_by_tag_key_and_tempo(ready: Stage, key: str, down: int, told: str) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        count = len(shelf.shown)
        await pilot.press(key)
        assert isinstance(pilot.app.screen, Choose)
        await pilot.press(*["down"] * down, "enter")
        assert 0 < len(shelf.shown) < count
        assert told in shelf.query_one("#filters", DrawnPanel).rows[0].text
        wanted = shelf.wanted
        assert told in (wanted.tag, wanted.key, wanted.band.title if wanted.band else "")


async def test_just_what_is_due(ready: Stage) -> None:
    ready.log.add(played(random.Random(1), LOW_ROAD, NOON - timedelta(days=30), 100, CLEAN))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press("f9")
        assert listed(shelf) == ["Iron Causeway"]
        assert "*" in shelf.query_one(RowList).rows[0].text[:3]
        await pilot.press("f9")
        assert len(listed(shelf)) > 1


async def test_orders_by_key_and_by_a_click_on_a_heading(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press("ctrl+o", "down", "down", "enter")
        targets = [entry.head.target_bpm for entry in shelf.shown]
        assert targets == sorted(targets)
        await pilot.click("#headings", offset=(4, 0))
        assert listed(shelf)[0] == "Against the Tide Mill"
        assert shelf.wanted.order == "title"


async def test_enter_and_a_second_click_open_the_stand(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press(*"heron", "enter")
        await settled(pilot)
        stand = pilot.app.screen
        assert isinstance(stand, StandScreen)
        assert stand.session is not None
        assert stand.session.state.loaded.exercise.title == "Heron Steps"
        await pilot.press("f2", "escape")
        shelf = await opened(pilot)
        await pilot.click("#list", offset=(10, 2))
        assert shelf.query_one(RowList).cursor == 2
        await pilot.click("#list", offset=(10, 2))
        await settled(pilot)
        assert isinstance(pilot.app.screen, StandScreen)


async def test_its_record_opens_in_the_logbook(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press(*"heron", "ctrl+l")
        await settled(pilot)
        logbook = pilot.app.screen
        assert isinstance(logbook, LogbookScreen)
        assert logbook.item is not None
        assert logbook.item.title == "Heron Steps"


async def test_broken_files_stay_with_their_error_and_do_not_open(ready: Stage) -> None:
    ready.write("broken.md", '+++\ntitle = "Broken"\ntempo = "fast"\n+++\n')
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"broken")
        assert "Broken" in listed(shelf)
        assert '"tempo" must be a number' in text_of(shelf)
        while shelf.chosen is None or shelf.chosen.head.title != "Broken":
            await pilot.press("down")
        await pilot.press("enter")
        await settled(pilot)
        assert pilot.app.screen is shelf
        assert "cannot be opened" in notices(pilot)


async def test_files_in_view_are_read_whole_in_the_background(ready: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.screens.shelf.LOOK_SECONDS", 0.001)
    ready.write("late.md", EXERCISE.format(title="Late Error", fret="q"))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"late error")
        await settled(pilot, 8)
        assert shelf.shown[0].wrong
        assert "!" in shelf.query_one(RowList).rows[0].text[:3]
        assert "line 12" in text_of(shelf)


async def test_changed_new_and_deleted_files_are_seen_while_the_program_runs(
    ready: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.screens.shelf.AGAIN_SECONDS", 0.02)
    path = ready.write("own.md", EXERCISE.format(title="First Draft", fret=3))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        assert "First Draft" in listed(shelf)
        path.write_text(EXERCISE.format(title="Second Draft", fret=3), "utf-8")
        os.utime(path, ns=(1, 1))
        ready.write("more.md", EXERCISE.format(title="One More", fret=3))
        await until(pilot, lambda: "One More" in listed(shelf))
        assert "Second Draft" in listed(shelf)
        assert "First Draft" not in listed(shelf)
        path.unlink()
        await until(pilot, lambda: "Second Draft" not in listed(shelf))


async def until(pilot: Pilot[None], holds: object) -> None:
    for _ in range(200):
        if holds():  # type: ignore[operator]
            return
        await pilot.pause(0.02)
    raise AssertionError("it did not come to hold")


async def test_a_mended_file_opens(ready: Stage) -> None:
    path = ready.write("own.md", '+++\ntitle = "Own"\ntempo = "fast"\n+++\n')
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        path.write_text(EXERCISE.format(title="Mended", fret=3), "utf-8")
        await pilot.press("ctrl+r")
        await settled(pilot)
        await pilot.press(*"mended", "enter")
        await settled(pilot)
        assert isinstance(pilot.app.screen, StandScreen)
        assert shelf.chosen is not None
        assert not shelf.chosen.wrong


async def test_a_file_mended_below_its_head_opens(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.screens.shelf.LOOK_SECONDS", 0.001)
    monkeypatch.setattr("trainer.screens.shelf.AGAIN_SECONDS", 0.02)
    ready = stage(tmp_path, own=False)
    path = ready.write("own.md", EXERCISE.format(title="Late Error", fret="q"))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"late error")
        await until(pilot, lambda: "line 12" in text_of(shelf))
        path.write_text(EXERCISE.format(title="Late Error", fret=3), "utf-8")
        os.utime(path, ns=(1, 1))
        await until(pilot, lambda: "line 12" not in text_of(shelf))
        await pilot.press("enter")
        await settled(pilot)
        assert isinstance(pilot.app.screen, StandScreen)


@pytest.mark.parametrize("typed", ["~nobody-of-that-name/x", "/tmp/" + "n" * 5000])
async def test_a_folder_that_nobody_can_have_is_asked_for_again(ready: Stage, typed: str) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press("ctrl+n")
        ask = pilot.app.screen
        ask.query_one(Input).value = typed
        await pilot.press("enter")
        assert pilot.app.screen is ask
        assert str(ask.query_one("#wrong", Static).content).endswith(".")


async def test_one_pass_is_no_passes(ready: Stage) -> None:
    ready.log.add(played(random.Random(1), LOW_ROAD, NOON, 100, CLEAN))
    async with ready.app().run_test(size=(120, 40)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"causeway")
        assert "1 pass, " in text_of(shelf)
        await pilot.press("f4")
        await settled(pilot)
        shown = "\n".join(row.text for each in pilot.app.screen.query(Rows) for row in each.rows)
        assert "1 pass, " in shown and "1 passes" not in shown


async def test_an_id_that_is_taken_is_told_and_does_not_open_the_other_file(ready: Stage) -> None:
    ready.write("a.md", EXERCISE.format(title="Zither One", fret=3).replace("key", 'id = "same"\nkey', 1))
    ready.write("b.md", EXERCISE.format(title="Zither Two", fret=3).replace("key", 'id = "same"\nkey', 1))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"zither two")
        assert "another file has this id" in text_of(shelf)
        await pilot.press("enter")
        await settled(pilot)
        assert pilot.app.screen is shelf


async def test_adding_a_folder_keeps_it_in_the_settings_with_their_comments(
    ready: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("CONFIG", "DATA"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(tmp_path / name))
    config = tmp_path / "CONFIG" / "twinspur" / "config.toml"
    config.parent.mkdir(parents=True)
    config.write_text("# my settings\n[sound]\nrate = 48000  # as the desk has it\n", "utf-8")
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "new.md").write_text(EXERCISE.format(title="From Elsewhere", fret=5), "utf-8")
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press("ctrl+n")
        ask = pilot.app.screen
        assert isinstance(ask, AskLine)
        await pilot.press(*"nowhere", "enter")
        assert pilot.app.screen is ask
        ask.query_one(Input).value = str(tmp_path / "absent")
        await pilot.press("enter")
        assert pilot.app.screen is ask
        ask.query_one(Input).value = str(tmp_path / "more")
        await pilot.press("enter")
        await settled(pilot, 8)
        assert "From Elsewhere" in listed(shelf)
    written = config.read_text("utf-8")
    assert str(tmp_path / "more") in written
    assert "# my settings" in written
    assert "# as the desk has it" in written


async def test_a_folder_that_cannot_be_kept_is_told_and_nothing_changes(
    ready: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "twinspur").write_text("a file where the folder should be", "utf-8")
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        before = listed(shelf)
        await pilot.press("ctrl+n")
        pilot.app.screen.query_one(Input).value = str(tmp_path)
        await pilot.press("enter")
        await settled(pilot)
        assert "cannot be" in notices(pilot)
        assert listed(shelf) == before


async def test_text_from_files_shows_literally(ready: Stage) -> None:
    title = "[b]Bold[/b] [link=https://x.example]here[/link] " + "x" * 240
    ready.write("odd.md", EXERCISE.format(title=title, fret=3))
    ready.write("bell.md", EXERCISE.format(title="Bell \\u001b[31m \\u202e", fret=3))
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"bold")
        assert "[b]Bold[/b] [link=" in text_of(shelf)
        await pilot.press("escape", *"bell")
        assert "\x1b" not in text_of(shelf)
        assert "\u202e" not in text_of(shelf)


async def test_the_chosen_exercise_is_found_again(ready: Stage) -> None:
    async with ready.app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press("down", "down", "down", "f5")
        await settled(pilot)
    async with ready.app().run_test(size=(80, 24)) as pilot:
        shelf = await opened(pilot)
        assert shelf.query_one(RowList).cursor == 3


@pytest.mark.parametrize("size", [(20, 5), (40, 12), (80, 24), (120, 40), (200, 60)])
async def test_it_holds_in_any_window(ready: Stage, size: tuple[int, int]) -> None:
    practise(ready.log, days=12)
    async with ready.app().run_test(size=size) as pilot:
        await opened(pilot)
        await pilot.press("down", "f6", "escape", *"ir")
        await pilot.resize_terminal(80, 24)
        await settled(pilot)
        assert "Iron Causeway" in text_of(await opened(pilot))


async def test_without_utf_8_it_is_drawn_in_ascii(tmp_path: Path) -> None:
    ready = stage(tmp_path, pen=ASCII)
    practise(ready.log, days=12)
    async with ready.app().run_test(size=(160, 40)) as pilot:
        shelf = await opened(pilot)
        await pilot.press(*"iron")
        assert all(row.text.isascii() for row in shelf.query_one(RowList).rows)


def test_folders_are_looked_through_every_two_seconds() -> None:
    assert shelf_reading.AGAIN_SECONDS == 2.0
