"""The takes over the stand: listed newest first, told, heard, compared, marked, exported and deleted."""

import json
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from tests.screens.music import HandSink, wiring
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.takes import KeptTake, Takes
from trainer.music.problem import Problem, ProblemsError
from trainer.playback.played_again import Beside
from trainer.practice.verdict import Judge, Measured, Outcome, Reason, Verdict
from trainer.screens.actions import actions_for
from trainer.screens.application import TwinspurApp
from trainer.screens.asking import AskLine, Choose
from trainer.screens.help_page import HelpPage
from trainer.screens.palette import Palette
from trainer.screens.replay import NotOpenedError
from trainer.screens.stand import StandScreen
from trainer.screens.takes import TakesScreen
from trainer.screens.takes_listed import Whose
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows

NOTES = MidiTake(tuple(MidiNote(Fraction(k, 8), 40, 0, 90) for k in range(8)))
LINE = {"exercise": "salt-road", "riff": "Low gate", "part": "guitar 1", "tempo_bpm": 120.0, "first_bar": 1,
        "last_bar": 4, "passes": 1, "start_s": 0.15}  # fmt: skip
LATE = Reason("The gallop's last sixteenth is 14 ms late from bar 3 on.", 3, "1 a", "second sixteenth")
LOST = Reason("Bar 2 lost its second note.", 2, "1 &")
MISSED = Verdict(Outcome.MISSED, Judge.TAKE, (LATE, LOST), Measured(3.0, 14.0, 1.0, 1.86, 1.8, 1.9, 0.8, 44, 43, 1))
CLEAN = Verdict(Outcome.CLEAN, Judge.TAKE, (), Measured(-1.0, 7.0, 0.0, 1.98, 1.9, 2.05, 1.0, 44, 44))
LOST_TRACK = Verdict(Outcome.UNJUDGED, Judge.TAKE, (Reason("I could not follow: the take is quiet."),))
MARKS = ["bar 2, count 1 &: not heard", "bar 3, count 1 a: 14 ms late", "bar 3, count 2 a: 15 ms late",
         "bar 4, count 2: 9 ms early", "bar 4, count 3: another pitch"]  # fmt: skip
FIRST = datetime(2031, 5, 3, 18, 0, 0, tzinfo=UTC)


def keep_one(takes: Takes, number: int, verdict: Verdict | None, marks: list[str] | None, **about: Any) -> str:
    """Keep a take of so many minutes after the first one."""
    kept = takes.keep(NOTES, None, {**LINE, **about}, FIRST + timedelta(minutes=number))
    path = takes.folder / f"{kept.name}.json"
    values = json.loads(path.read_text("utf-8")) | {"verdict": verdict.as_dict() if verdict else None}
    path.write_text(json.dumps(values | ({} if marks is None else {"marks": marks})), "utf-8")
    return kept.name


def keep_some(takes: Takes) -> list[str]:
    """Five takes of the riff and part, the newest last, and three others."""
    names = [
        keep_one(takes, 0, LOST_TRACK, []),
        keep_one(takes, 1, MISSED, MARKS),
        keep_one(takes, 2, CLEAN, []),
        keep_one(takes, 3, MISSED, MARKS, tempo_bpm=132.0, unfinished=True, last_bar=3),
        keep_one(takes, 4, MISSED, MARKS, tempo_bpm=132.0),
    ]
    takes.mark(names[2])
    keep_one(takes, 5, CLEAN, None, part="guitar 2")
    keep_one(takes, 6, CLEAN, [], riff="", form=True, last_bar=6)
    keep_one(takes, 7, MISSED, MARKS, exercise="[b]other[/b]\x1b[2J")
    return names


@dataclass
class BenchReplay:
    """A take that sounds until it is closed."""

    take: KeptTake
    beside: Beside
    ended: bool = False
    gone: str = ""
    closed: threading.Event = field(default_factory=threading.Event)

    def close(self) -> None:
        self.closed.set()


@dataclass
class Bench:
    """The window in an application, and what was heard."""

    app: TwinspurApp
    pilot: Pilot[None]
    takes: Takes
    names: list[str]
    heard: list[BenchReplay]
    sink: HandSink

    @property
    def screen(self) -> TakesScreen:
        screen = self.app.screen
        assert isinstance(screen, TakesScreen)
        return screen

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.pilot.press(key)
            await self.pilot.pause()

    async def until(self, true: Callable[[], object]) -> None:
        for _ in range(1000):
            await self.pilot.pause(0.01)
            if true():
                return
        raise TimeoutError

    def text(self, name: str) -> str:
        return "\n".join(row.text.rstrip() for row in self.screen.query_one(name, Rows).rows)


@asynccontextmanager
async def shown(folder: Path, size: tuple[int, int] = (80, 24), trouble: str = "") -> AsyncIterator[Bench]:
    takes, sink, heard = Takes(folder / "takes"), HandSink(), list[BenchReplay]()

    def hear(take: KeptTake, beside: Beside) -> BenchReplay:
        if trouble:
            raise ProblemsError([Problem("", 0, 0, trouble)])
        heard.append(BenchReplay(take, beside))
        return heard[-1]

    names = keep_some(takes)
    app = TwinspurApp(replace(wiring(folder, sink), takes=lambda: takes, hear_again=hear), "stand")
    async with app.run_test(size=size) as pilot:
        bench = Bench(app, pilot, takes, names, heard, sink)
        app.open_on_stand("salt-road")
        await bench.until(lambda: isinstance(app.screen, StandScreen) and app.screen.practising is not None)
        await bench.press("T")
        await bench.until(lambda: isinstance(app.screen, TakesScreen) and app.screen._whole)
        yield bench


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
        assert "I could not follow" in bench.text("#about")


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
        await bench.until(lambda: bench.screen._whole)
        assert len(bench.screen.takes) == 7
        assert "the form" in bench.text("#list")
        await bench.press("o")
        await bench.until(lambda: bench.screen._whole)
        assert len(bench.screen.takes) == 8
        assert "[b]other[/b]" in bench.text("#list")
        assert "\x1b" not in bench.text("#list")
        assert "were not kept" not in bench.text("#about")
        await bench.press("down", "down")
        assert "were not kept" in bench.text("#about")
        await bench.press("o")
        assert bench.screen.wanted.whose is Whose.LINE


async def test_a_take_is_heard_and_the_stand_is_silent(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        stand = bench.app.screen_stack[-2]
        assert isinstance(stand, StandScreen) and stand.practising is not None
        stand.practising.start()
        assert stand.practising.running
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        assert not stand.practising.running
        assert (bench.heard[0].take.name, bench.heard[0].beside) == (bench.names[4], Beside.PART)
        assert "You hear it with click and part" in bench.text("#playing")
        assert "♪" in bench.text("#list").splitlines()[0]
        await bench.press("w")  # something else beside it, at once
        await bench.until(lambda: len(bench.heard) == 2)
        assert bench.heard[0].closed.wait(5)
        assert bench.heard[1].beside is Beside.CLICK
        await bench.press("space")
        assert bench.heard[1].closed.wait(5)
        assert not bench.screen.playing
        await bench.press("w", "down", "enter")
        await bench.until(lambda: len(bench.heard) == 3)
        assert (bench.heard[2].take.name, bench.heard[2].beside) == (bench.names[3], Beside.NOTHING)
        bench.heard[2].ended = True
        await bench.until(lambda: not bench.screen.playing)
        assert bench.heard[2].closed.is_set()


@pytest.mark.parametrize("key", ["escape", "T", "f3", "f2", "ctrl+q"])
async def test_what_is_heard_stops_when_the_takes_are_left(tmp_path: Path, key: str) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        await bench.press(key)
        assert bench.heard[0].closed.wait(5)
        if key in ("escape", "T", "f3"):
            await bench.until(lambda: isinstance(bench.app.screen, StandScreen))


async def test_what_goes_wrong_is_told(tmp_path: Path) -> None:
    async with shown(tmp_path, trouble="No sound [b]card[/b]") as bench:
        await bench.press("space")
        await bench.until(lambda: "No sound [b]card[/b]." in bench.text("#playing"))
        assert not bench.screen.playing
    async with shown(tmp_path / "again") as bench:
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        bench.heard[0].gone = "The sound card stopped."
        await bench.until(lambda: "The sound card stopped." in bench.text("#playing"))
        assert bench.heard[0].closed.is_set()


async def test_a_sound_card_that_the_stand_holds_is_let_go_and_taken_again(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        stand = bench.app.screen_stack[-2]
        assert isinstance(stand, StandScreen) and stand.practising is not None
        it = stand.practising

        def held(take: KeptTake, beside: Beside) -> BenchReplay:
            if it.player.sounding.where != "silence":
                raise NotOpenedError([Problem("", 0, 0, "The sound card's output cannot be opened")])
            bench.heard.append(BenchReplay(take, beside))
            return bench.heard[-1]

        bench.screen.wiring = replace(bench.screen.wiring, hear_again=held)
        assert it.player.sounding.where == "recorder"
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        assert bench.sink.closed
        await bench.press("escape")
        assert bench.heard[0].closed.wait(5)
        await bench.until(lambda: it.player.sounding.where == "recorder")


async def test_a_take_is_marked_and_the_mark_is_taken_away(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        for marked in (True, False):
            await bench.press("m")
            await bench.until(lambda: bench.screen.takes[0].marked is marked)  # noqa: B023 - at once
            take = bench.takes.take(bench.names[4])
            assert take is not None and take.marked is marked
            assert ("marked" in bench.text("#list").splitlines()[0]) is marked


async def test_a_take_is_deleted_after_asking_once(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("x")
        assert isinstance(bench.app.screen, Choose)
        await bench.press("enter")  # it stays: that is what stands there first
        assert bench.takes.take(bench.names[4]) is not None
        await bench.press("space")
        await bench.until(lambda: bench.heard)
        await bench.press("x", "down", "enter")
        await bench.until(lambda: len(bench.screen.takes) == 4)
        assert bench.heard[0].closed.wait(5)
        assert bench.takes.take(bench.names[4]) is None
        assert bench.screen.chosen is not None and bench.screen.chosen.name == bench.names[3]


async def test_a_take_is_copied_into_a_file(tmp_path: Path) -> None:
    async with shown(tmp_path) as bench:
        await bench.press("e")
        asked = bench.app.screen
        assert isinstance(asked, AskLine)
        assert asked._check("mine.mid").startswith("Name the whole path")
        assert asked._check(str(tmp_path / "mine.wav")).startswith("The name must end in .mid")
        assert asked._check(str(tmp_path / "none" / "mine.mid")).startswith("There is no such folder")
        assert asked._check("\0") != ""
        asked.dismiss(str(tmp_path / "mine.mid"))
        await bench.until((tmp_path / "mine.mid").exists)
        await bench.until(lambda: "mine.mid" in bench.text("#playing"))
        assert asked._check(str(tmp_path / "mine.mid")).startswith("This file exists")


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
        assert isinstance(stand, StandScreen) and stand.practising is not None
        await bench.until(lambda: stand.practising is not None and stand.practising.standing.stood.riff == "High gate")
        await bench.press("T")
        await bench.until(lambda: isinstance(bench.app.screen, TakesScreen) and bench.screen._whole)
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
        await bench.until(lambda: bench.screen._whole)
        assert "o looks farther" in bench.text("#about")
        await bench.press("space", "c", "m", "e", "x")  # nothing to do it with
        assert isinstance(bench.app.screen, TakesScreen)
