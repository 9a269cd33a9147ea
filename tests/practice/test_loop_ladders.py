"""Each loop of some bars has a ladder of its own, which is there the next day; a log of before has room for them."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.open_logs import closed_later
from tests.practice.made import LEAD, NOON, TWIN, clock, played
from trainer.practice import reading
from trainer.practice.export import read_export, write_csv, write_json
from trainer.practice.goals import Goal, put_goal
from trainer.practice.importing import import_all
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.loop_ladders import LoopBars, add_loop_pass, keep_loop_ladder, loop_ladder
from trainer.practice.recording import add_pass, keep_ladder
from trainer.practice.schema import MIGRATIONS, migrate
from trainer.practice.sittings import Place, sittings

BARS = LoopBars("a1", 2, 3)
PLACE = Place(LEAD, 2, 3, 104.0, way="ladder")


def logged(log: Log, bars: LoopBars | None, position: dict[str, object], number: int = 1) -> None:
    passed = played(number, first_bar=2, last_bar=3, whole=bars is None)
    log.change(add_loop_pass, passed, bars, position, PLACE, log.sitting)


def test_a_loops_ladder_is_found_again_and_the_whole_riffs_stays_where_it_was(tmp_path: Path) -> None:
    with Log.open(tmp_path / "log.sqlite", now=clock, sitting="1" * 32) as log:
        logged(log, None, {"tempo_bpm": 96}, 1)
        logged(log, BARS, {"tempo_bpm": 104}, 2)
        logged(log, BARS, {"tempo_bpm": 108}, 3)
        assert log.ask(sittings)[0].place == PLACE
    with Log.open(tmp_path / "log.sqlite", now=clock) as log:
        assert log.ask(loop_ladder, LEAD, BARS) == {"tempo_bpm": 108}
        assert log.ask(reading.ladder, LEAD) == {"tempo_bpm": 96}
        assert log.ask(reading.totals).passes == 3


@pytest.mark.parametrize(
    ("line", "bars"),
    [(TWIN, BARS), (LEAD, BARS._replace(digest="b2")), (LEAD, BARS._replace(last_bar=4))],
    ids=["another part", "a changed riff", "other bars"],
)
def test_what_is_not_the_same_music_has_no_ladder_yet(line: Line, bars: LoopBars) -> None:
    log = closed_later(Log.open(None, now=clock))
    log.change(keep_loop_ladder, LEAD, BARS, {"tempo_bpm": 104}, 1)
    assert log.ask(loop_ladder, line, bars) is None


def test_a_pass_that_was_played_on_no_ladder_keeps_none() -> None:
    log = closed_later(Log.open(None, now=clock))
    log.change(add_loop_pass, played(1), BARS, None, PLACE, "")
    assert log.ask(loop_ladder, LEAD, BARS) is None
    assert log.ask(reading.totals).passes == 1


def a_log_of_before(path: Path) -> None:
    """A log as the first version wrote it, with passes, a ladder and a goal."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    migrate(db, MIGRATIONS[:1])
    for number in range(1, 6):
        add_pass(db, played(number), {"tempo_bpm": 90 + number})
    put_goal(db, Goal("f" * 32, LEAD, 150.0, (NOON + timedelta(days=9)).date(), NOON))
    db.close()


def test_a_log_of_the_first_version_is_read_and_has_room_for_loops(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    a_log_of_before(path)
    told: list[object] = []
    with Log.open(path, now=clock, tell=told.append) as log:
        assert not told and log.kept
        assert log.ask(reading.totals).passes == 5
        assert log.ask(reading.ladder, LEAD) == {"tempo_bpm": 95}
        keep = {"tempo_bpm": 104}
        log.change(keep_loop_ladder, LEAD, BARS, keep, 1)
        assert log.ask(loop_ladder, LEAD, BARS) == keep
        assert log.ask(lambda db: db.execute("PRAGMA user_version").fetchone()) == (len(MIGRATIONS),)
    assert [file.name for file in tmp_path.iterdir() if "newer" in file.name or "damaged" in file.name] == []


def test_what_the_first_version_exported_and_what_this_one_exports_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    a_log_of_before(path)
    before = sqlite3.connect(":memory:")
    with closing(sqlite3.connect(path)) as disk:
        disk.backup(before)
    before.execute(next(script for script in MIGRATIONS if "TABLE assignments" in script))  # the export looks into it
    then = list(write_json(before)), list(write_csv(before))
    before.close()
    with Log.open(path, now=clock) as log:
        assert log.ask(lambda db: (list(write_json(db)), list(write_csv(db)))) == then
        passes, goals, _ = read_export(then[0], "export.json")
        assert log.change(import_all, passes, goals, "export", 0)[:2] == (0, 5)
    with Log.open(tmp_path / "other.sqlite", now=clock) as other:
        assert other.change(import_all, passes, goals, "export", 0)[:2] == (5, 0)
        assert other.ask(lambda db: list(write_json(db))) == then[0]


def test_keeping_the_whole_riffs_ladder_is_what_it_was() -> None:
    one, other = closed_later(Log.open(None, now=clock)), closed_later(Log.open(None, now=clock))
    one.change(keep_loop_ladder, LEAD, None, {"tempo_bpm": 99}, 1)
    other.change(keep_ladder, LEAD, {"tempo_bpm": 99}, 1)
    assert one.ask(reading.ladder, LEAD) == other.ask(reading.ladder, LEAD)
