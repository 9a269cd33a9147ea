"""Everything that version 0.1.0 kept is read without loss: `kept_0_1_0` was written by that version's own code.

`log.json`, `log.csv`, `record.json`, `takes.json` and `ladders.json` there are what 0.1.0 itself said of its files.
"""

import json
import shutil
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.logged import newest_passes
from trainer.listening.calibration import STAND, read_round_trips
from trainer.listening.takes import Takes
from trainer.practice import reading
from trainer.practice.export import read_export, write_csv, write_json
from trainer.practice.goals import goals
from trainer.practice.importing import import_all
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import ClimbStyle, LadderRules
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.loop_ladders import LoopBars, loop_ladder
from trainer.practice.sittings import seen, sittings

KEPT = Path(__file__).parent / "kept_0_1_0"


@pytest.fixture
def log(tmp_path: Path) -> Any:
    shutil.copy(KEPT / "data" / "twinspur" / "log.sqlite", tmp_path)
    with Log.open(tmp_path / "log.sqlite", now=lambda: datetime(2026, 4, 1, tzinfo=UTC)) as opened:
        yield opened


def test_every_pass_and_goal_is_told_as_it_was(log: Log) -> None:
    assert "".join(log.ask(lambda db: list(write_json(db)))) == (KEPT / "log.json").read_text("utf-8")
    with (KEPT / "log.csv").open(encoding="utf-8", newline="") as before:
        assert "".join(log.ask(lambda db: list(write_csv(db)))) == before.read()
    assert len(log.ask(newest_passes, 1000)) == log.ask(reading.totals).passes == 73
    assert {goal.state.value for goal in log.ask(goals)} == {"kept", "given up", "reached"}
    before_it = json.loads((KEPT / "record.json").read_text("utf-8"))
    assert [record.exercise for record in log.ask(reading.exercises).values()]
    for told in before_it["exercises"]:
        assert log.ask(reading.exercises)[told["exercise"]]._asdict() == told


@pytest.mark.parametrize("name", ["log.json", "log.csv"])
def test_its_exports_are_imported_whole(log: Log, name: str, tmp_path: Path) -> None:
    with (KEPT / name).open(encoding="utf-8", newline="") as lines:
        passes, wanted, _ = read_export(lines, name)
    assert len(passes) == 73 and len(wanted) == (3 if name == "log.json" else 0)
    assert log.change(import_all, passes, wanted, "export", 0) == (0, 73, 0, 0)
    with Log.open(tmp_path / "new.sqlite", now=lambda: datetime(2026, 4, 1, tzinfo=UTC)) as fresh:
        fresh.change(import_all, passes, wanted, "export", 0)
        assert fresh.ask(lambda db: list(write_csv(db))) == log.ask(lambda db: list(write_csv(db)))


def test_the_ladders_stand_where_they_stood(log: Log) -> None:
    kept = json.loads((KEPT / "ladders.json").read_text("utf-8"))
    for exercise, riff, part, position in kept["ladders"]:
        style = ClimbStyle.BURSTS if position["bars"] else ClimbStyle.STAIRCASE
        found = log.ask(reading.ladder, Line(exercise, riff, part))
        assert found == position
        assert Ladder.from_dict(LadderRules(50, 168, style=style), position).as_dict() == position
    for exercise, riff, part, digest, first, last, position in kept["loop_ladders"]:
        found = log.ask(loop_ladder, Line(exercise, riff, part), LoopBars(digest, first, last))
        assert found == position
        assert Ladder.from_dict(LadderRules(92, 168), position).as_dict() == position


def test_the_sitting_and_what_was_put_away_are_found(log: Log) -> None:
    (sitting,) = log.ask(sittings)
    assert sitting.ended and sitting.port == "Rack 1" and sitting.place is not None
    assert sitting.place.line == Line("nacht-fähre", "Über [b]Bord[/b]", "Gitarre 1")
    assert log.ask(seen) == {"warm-up"}


def test_its_takes_are_listed_with_all_that_was_said_of_them() -> None:
    told = json.loads((KEPT / "takes.json").read_text("utf-8"))
    takes = Takes(KEPT / "data" / "twinspur" / "takes").all()[::-1]
    assert [take.name for take in takes] == [each["name"] for each in told]
    for take, before in zip(takes, told, strict=True):
        assert (take.verdict.as_dict() if take.verdict else None) == before["verdict"]
        assert (take.marked, take.size) == (before["marked"], before["bytes"])
        assert list(take.info.marks) == before["marks"] if take.info.marks is not None else "marks" not in before
    assert [take.info.begins_s for take in takes] == [0.0, 0.25, 0.25]
    assert [take.info.known_s for take in takes] == [None, 0.25, 0.25]
    assert takes[0].info.what == "Gitarre 1, Über [b]Bord[/b], nacht-fähre"
    assert takes[1].info.what == "guitar 1, the form, iron-causeway" and takes[1].info.unfinished


def test_its_round_trips_are_known() -> None:
    listen, stand = read_round_trips(KEPT / "data" / "twinspur" / "round-trips.json")
    assert (listen.way, listen.milliseconds, listen.told_ms, listen.openings) == ("", 23.417, 21.3, 5)
    assert (stand.way, stand.driver, stand.period, stand.milliseconds) == (STAND, "pulseaudio", 1024, 61.05)
    assert date.fromisoformat(listen.measured) == date(2026, 2, 27)
