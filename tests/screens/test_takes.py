"""The takes over the stand: listed newest first, told, heard, compared, marked, exported and deleted."""

from pathlib import Path

import pytest

from tests.screens.takes_bench import LATE, LOST, shown
from trainer.screens.actions import actions_for
from trainer.screens.asking import Choose
from trainer.screens.help_page import HelpPage
from trainer.screens.palette import Palette
from trainer.screens.stand import StandScreen
from trainer.screens.takes import TakesScreen
from trainer.screens.takes_listed import Whose
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows


async def test_takes_of_the_riff_and_part_are_listed_the_newest_first(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        assert [take.name for take in bench.screen.takes] == bench.names[::-1]
        rows = bench.text("#list").splitlines()
        assert "2031-05-03 18:04" in rows[0]
        assert "132" in rows[0] and "x missed" in rows[0]
        assert "unfinished" in rows[1]
        assert "+ clean" in rows[2] and "marked" in rows[2]
        assert "? unjudged" in rows[4]
        assert "Salt Road, Low gate, guitar 1: 5 takes" in bench.text("#title")


async def test_the_chosen_take_tells_its_sentences_and_its_strokes(tmp_path: Path) -> None:
    async with shown(tmp_path, (120, 40)) as bench:
        told = " ".join(bench.text("#about").split())
        assert LATE.sentence in told and LOST.sentence in told
        assert "» bar 3, count 1 a: 14 ms late" in told
        assert "« bar 4, count 2: 9 ms early" in told
        assert "✗ bar 2, count 1 &: not heard" in told
        assert "≠ bar 4, count 3: another pitch" in told
        await bench.press("down", "down")
        assert "No stroke that anyone would notice." in bench.text("#about")
        await bench.press("end")
        assert "Could not match" in bench.text("#about")


async def test_it_is_compared_with_the_take_before_and_with_earlier_ones(tmp_path: Path) -> None:
    async with shown(tmp_path, (120, 40)) as bench:
        await bench.press("c", "c")
        told = " ".join(bench.text("#about").split())
        assert "Beside the take of 2031-05-03 18:02:00" in told
        assert "Looser than before: the strokes scatter by 14 ms, 7 ms then." in told
        assert "More missed notes: 1, 0 then." in told
        await bench.press("C", "C")
        assert "Beside" not in bench.text("#about")
        await bench.press("end", "c")
        assert "no earlier take" in bench.text("#playing")


async def test_other_takes_are_listed_too_and_odd_words_stand_as_they_are(tmp_path: Path) -> None:
    async with shown(tmp_path, (120, 40)) as bench:
        await bench.press("o")
        await bench.until(lambda: bench.screen.is_whole)
        assert len(bench.screen.takes) == 7
        assert "the form" in bench.text("#list")
        await bench.press("o")
        await bench.until(lambda: bench.screen.is_whole)
        assert len(bench.screen.takes) == 8
        assert "[b]other[/b]" in bench.text("#list")
        assert "\x1b" not in bench.text("#list")
        assert "were not kept" not in bench.text("#about")
        await bench.press("down", "down")
        assert "were not kept" in bench.text("#about")
        await bench.press("o")
        assert bench.screen.wanted.whose is Whose.LINE


async def test_the_mouse_chooses_hears_and_carries_out_what_stands_at_the_foot(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.pilot.click(RowList, offset=(10, 1))
        assert bench.screen.chosen is not None and bench.screen.chosen.name == bench.names[3]
        await bench.pilot.click(RowList, offset=(10, 1))
        await bench.until(lambda: bench.heard)
        hints = bench.text("#hints")
        await bench.pilot.click("#hints", offset=(hints.index("delete"), 0))
        assert isinstance(bench.app.screen, Choose)


async def test_another_exercise_goes_on_the_stand_although_takes_lie_over_it(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("f2")
        bench.app.open_on_stand("salt-road", "High gate")
        await bench.until(lambda: isinstance(bench.app.screen, StandScreen))
        stand = bench.app.screen
        assert isinstance(stand, StandScreen) and stand.session is not None
        await bench.until(lambda: stand.session is not None and stand.session.state.loaded.riff == "High gate")
        await bench.press("T")
        await bench.until(lambda: isinstance(bench.app.screen, TakesScreen) and bench.screen.is_whole)
        assert bench.screen.wanted.line.riff == "High gate"


async def test_help_and_palette_know_what_can_be_done_here(tmp_path: Path) -> None:
    async with shown(tmp_path, (120, 40)) as bench:
        await bench.press("f1")
        page = bench.app.screen
        assert isinstance(page, HelpPage)
        said = " ".join(row.text for row in page.query_one("#help", Rows).rows)
        assert "Hear the chosen take, or stop it" in said
        await bench.press("escape", "ctrl+p")
        await bench.until(lambda: isinstance(bench.app.screen, Palette))
        await bench.press(*"never")
        await bench.pilot.app.workers.wait_for_complete()
        await bench.pilot.pause(0.2)
        await bench.press("enter")
        await bench.until(lambda: isinstance(bench.app.screen, TakesScreen) and bench.screen.takes[0].marked)


@pytest.mark.parametrize("size", [(40, 12), (80, 24), (120, 40), (200, 60)])
async def test_everything_fits_and_every_action_does_something(tmp_path: Path, size: tuple[int, int]) -> None:
    async with shown(tmp_path, size) as bench:
        assert bench.screen.query_one(RowList).size.height >= 3
        assert bench.screen.query_one("#about").size.height >= 4
        assert bench.screen.query_one("#about").region.bottom <= size[1]
        for action in actions_for("takes"):
            if action.name not in ("leave_takes", "export", "delete"):
                await bench.press(action.keys[0])
        assert isinstance(bench.app.screen, TakesScreen)


async def test_no_take_is_told_with_what_to_do(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        for name in bench.names:
            bench.takes.delete(name)
        await bench.press("escape", "T")
        await bench.until(lambda: bench.screen.is_whole)
        assert "o looks farther" in bench.text("#about")
        await bench.press("space", "c", "m", "e", "x")  # nothing to do it with
        assert isinstance(bench.app.screen, TakesScreen)


async def test_that_no_take_is_kept_is_told_to_its_last_word(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        for name in bench.names:
            bench.takes.delete(name)
        await bench.press("escape")
        await bench.press("T")
        await bench.until(lambda: "No take of" in bench.text("#about"))
        assert " ".join(bench.text("#about").split()).endswith("L on the stand listens and keeps.")
