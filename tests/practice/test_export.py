import csv
import json
import sqlite3
from pathlib import Path

import pytest

from tests.logged import newest_passes
from tests.open_logs import closed_later
from tests.practice.made import LEAD, NOON, clock, many, played
from tests.practice.test_log import counted, goal
from trainer.music.problem import ProblemsError
from trainer.practice import goals, reading
from trainer.practice.export import export_file, read_export, write_csv, write_json
from trainer.practice.importing import FEW, import_all, read_log, undo_import
from trainer.practice.line import Line
from trainer.practice.log import Log


def full_log(passes: int = 80) -> Log:
    log = closed_later(Log.open(None, now=clock))
    for one in many(passes):
        log.add(one)
    log.add(played(5000, line=Line('comma, "quote"', "two\nlines", "[b]\x1b[2J"), way="burst"))
    log.change(goals.put_goal, goal(1, 168, by=NOON.date()))
    return log


@pytest.mark.parametrize("write", [write_json, write_csv])
def test_what_was_exported_is_imported_and_twice_doubles_nothing(tmp_path: Path, write: object) -> None:
    file = tmp_path / "export"
    with full_log() as log:
        before = log.ask(counted)
        with file.open("w", newline="") as out:
            out.writelines(log.ask(lambda db: list(write(db))))  # type: ignore[operator]
        passes = log.ask(newest_passes, 1000)
    with Log.open(tmp_path / "log.sqlite", now=clock) as other:
        for new in (81, 0):
            with file.open(newline="") as lines:
                found, wanted, _ = read_export(lines, "export")
            imported = other.change(import_all, found, wanted, "export", 0)
            assert (imported.passes, imported.known) == (new, 81 - new)
            assert other.ask(counted) == before
        assert other.ask(newest_passes, 1000) == passes
        assert len(other.ask(goals.goals)) == (1 if write is write_json else 0)


def test_an_export_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    file = tmp_path / "record.CSV"
    with full_log(5) as log:
        log.ask(export_file, file)
        assert file.read_bytes().startswith(b"uuid,at,day")
        log.ask(export_file, tmp_path / "record.json")
        assert len(json.loads((tmp_path / "record.json").read_text())["passes"]) == 6
        before = file.read_bytes()
        (tmp_path / "full.json").mkdir()
        with pytest.raises(ProblemsError, match=r"full\.json: .*a folder of that name"):
            log.ask(export_file, tmp_path / "full.json")
    assert file.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["full.json", "record.CSV", "record.json"]


def test_a_long_import_counts_as_a_short_one_does() -> None:
    passes = many(FEW + 1)
    with Log.open(None, now=clock) as long, Log.open(None, now=clock) as short:
        long.change(import_all, passes, [], "export", 0)
        for start in range(0, len(passes), 1000):
            short.change(import_all, passes[start : start + 1000], [], "export", 0)
        assert long.ask(counted) == short.ask(counted)


def test_an_export_is_plain_json_and_csv_with_a_heading() -> None:
    with full_log(3) as log:
        whole = json.loads("".join(log.ask(lambda db: list(write_json(db)))))
        rows = list(csv.DictReader("".join(log.ask(lambda db: list(write_csv(db)))).splitlines(keepends=True)))
    assert len(whole["passes"]) == len(rows) == 4
    assert rows[3]["riff"] == "two\nlines" and rows[3]["outcome"] == "clean" and rows[3]["whole"] == "1"
    with Log.open(None, now=clock) as empty:
        assert json.loads("".join(empty.ask(lambda db: list(write_json(db)))))["passes"] == []
        assert len(empty.ask(lambda db: list(write_csv(db)))) == 1


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "x:1: This is no export"),
        ("title,artist\n", "x:1: This is no export"),
        ("{}", "x:1: This is no export"),
        ('{"format": "twinspur practice log", "version": 2}', "newer version"),
        ('{"format": "twinspur practice log",\n "version": 1, "passes": [\n', "x:3"),
        (
            '{"format": "twinspur practice log", "version": 1, "passes": [{"uuid": 3}]}',
            "Number 1 of the passes is wrong",
        ),
        ('{"format": "twinspur practice log", "version": 1, "passes": [7, null, []]}', "Number 3 of the passes"),
        ("[" * 100_000, "no export"),
        ('{"format":' + "[" * 100_000, "no JSON"),
    ],
    ids=range(9),
)
def test_a_wrong_file_says_where_and_what(text: str, told: str) -> None:
    with pytest.raises(ProblemsError, match=told):
        read_export(text.splitlines(keepends=True), "x")


def test_one_wrong_line_changes_nothing_and_is_named() -> None:
    with full_log(5) as log:
        lines = log.ask(lambda db: list(write_csv(db)))
    lines[3] = lines[3].replace("2031-03", "2031-33", 1)
    with pytest.raises(ProblemsError, match=r"x:4: This pass is wrong"):
        read_export(lines, "x")
    with Log.open(None, now=clock) as log:
        good = many(2)
        with pytest.raises(AttributeError):
            log.change(import_all, [*good, None], [], "export", 0)  # type: ignore[list-item]
        assert log.ask(reading.totals).passes == 0
        assert log.ask(reading.line, LEAD) is None


@pytest.mark.parametrize("many_passes", [60, FEW + 1])
def test_an_import_is_undone_and_leaves_what_was_practised(tmp_path: Path, many_passes: int) -> None:
    with Log.open(tmp_path / "log.sqlite", now=clock) as log:
        for one in many(20):
            log.add(one)
        log.change(goals.put_goal, goal(1, 168))
        before, wanted = log.ask(counted), log.ask(goals.goals)
        others = [played(10_000 + number, line=Line("elsewhere", "", "bass")) for number in range(many_passes)]
        brought = log.change(import_all, [*many(25), *others], [goal(2, 90)], "theirs.json", 0)
        assert brought == (5 + many_passes, 20, 1, 0)
        assert log.change(undo_import, 0) == ("theirs.json", 5 + many_passes, 1, 0)
        assert (log.ask(counted), log.ask(goals.goals)) == (before, wanted)
        assert log.change(undo_import, 0) is None


def test_undoing_an_import_takes_back_the_goals_that_it_reached() -> None:
    with Log.open(None, now=clock) as log:
        log.change(goals.put_goal, goal(1, 80))
        passes = [played(number, tempo_bpm=100.0) for number in range(goals.GOAL_PASSES)]
        log.change(import_all, passes, [], "export", 0)
        assert [each.state for each in log.ask(goals.goals)] == [goals.GoalState.REACHED]
        log.change(undo_import, 1)
        assert [each.state for each in log.ask(goals.goals)] == [goals.GoalState.KEPT]


def test_a_log_that_was_set_aside_is_brought_back(tmp_path: Path) -> None:
    aside = tmp_path / "log.damaged.sqlite"
    with Log.open(aside, now=clock) as old:
        for one in many(30):
            old.add(one)
        old.change(goals.put_goal, goal(1, 168))
        whole = old.ask(counted)
    content = aside.read_bytes()
    passes, wanted, _ = read_log(aside)
    assert aside.read_bytes() == content
    with Log.open(None, now=clock) as log:
        assert log.change(import_all, passes, wanted, "aside", 0) == (30, 0, 1, 0)
        assert log.ask(counted) == whole


def test_what_is_no_log_or_a_newer_one_is_not_brought_in(tmp_path: Path) -> None:
    for name, setting, said in (
        ("other", "application_id = 1", "no practice log"),
        ("newer", "user_version = 99", "newer version"),
    ):
        path = tmp_path / name
        Log.open(path, now=clock).close()
        db = sqlite3.connect(path)
        db.execute(f"PRAGMA {setting}")
        db.close()
        with pytest.raises(ProblemsError, match=said):
            read_log(path)
