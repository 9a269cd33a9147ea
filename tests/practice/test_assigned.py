"""What a teacher asks for, in the log: replaced by the same source, done by the record, carried out and brought in."""

import sqlite3
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.open_logs import closed_later
from tests.practice.made import LEAD, NOON, TWIN, clock, played
from trainer.practice.assigned import (
    KeptAssignment,
    assignments,
    goal_uuid,
    remove_assignments,
    remove_source,
    set_assignments,
    standings,
)
from trainer.practice.export import read_export, write_json
from trainer.practice.goals import GOAL_PASSES, GoalState, change_goal, goals
from trainer.practice.importing import import_all, read_log, undo_import
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.schema import MIGRATIONS, migrate
from trainer.practice.verdict import Outcome
from trainer.values import NotUnderstoodError, read

WHOLE = KeptAssignment(LEAD, 100.0, NOON, "gallop", "Ines", "week.toml", by=date(2031, 3, 8), minutes=10, note="Loose.")
BARS = KeptAssignment(TWIN, 100.0, NOON, "turn", "Ines", "week.toml", bars=(2, 3))
NOW = round(NOON.timestamp() * 1000)


@pytest.fixture
def log() -> Log:
    return closed_later(Log.open(None, now=clock))


def test_what_is_asked_for_is_kept_whole_and_a_whole_riffs_tempo_is_a_goal(log: Log) -> None:
    assert log.change(set_assignments, "week.toml", [BARS, WHOLE], NOW) == (1, 0)
    assert log.ask(assignments) == (WHOLE, BARS)  # the one with a date first
    [goal] = log.ask(goals)
    assert (goal.line, goal.target_bpm, goal.by) == (LEAD, 100.0, WHOLE.by)


def test_the_same_source_replaces_what_came_in_it_and_another_adds(log: Log) -> None:
    log.change(set_assignments, "week.toml", [BARS, WHOLE], NOW)
    other = KeptAssignment(Line("heron-steps", "Wading", "guitar 1"), 90.0, NOON, source="next.toml")
    log.change(set_assignments, "next.toml", [other], NOW)
    assert log.change(set_assignments, "week.toml", [BARS], NOW) == (0, 1)
    assert {each.line for each in log.ask(assignments)} == {TWIN, other.line}
    assert [goal.line for goal in log.ask(goals)] == [other.line]


def test_the_same_again_goes_on_from_when_it_was_first_asked_for(log: Log) -> None:
    log.change(set_assignments, "week.toml", [WHOLE], NOW)
    later = NOON + timedelta(days=2)
    log.change(set_assignments, "week.toml", [replace(WHOLE, set_at=later, note="Looser.")], NOW)
    assert log.ask(assignments) == (replace(WHOLE, note="Looser."),)
    log.change(set_assignments, "week.toml", [replace(WHOLE, set_at=later, tempo_bpm=110.0)], NOW)
    assert log.ask(assignments)[0].set_at == later


def test_taking_away_leaves_what_was_practised_and_what_was_reached(log: Log) -> None:
    log.change(set_assignments, "week.toml", [WHOLE, BARS], NOW)
    log.change(change_goal, goal_uuid(LEAD), GoalState.REACHED, NOW)
    log.add(played(1))
    assert log.change(remove_source, "week.toml") == 2
    assert log.ask(assignments) == ()
    assert [goal.state for goal in log.ask(goals)] == [GoalState.REACHED]
    assert log.change(remove_assignments, [LEAD]) == 0


@pytest.mark.parametrize(
    ("asked", "outcomes", "changes", "done"),
    [
        (WHOLE, "ccc", {}, True),
        (WHOLE, "cc", {}, False),
        (WHOLE, "ccmc", {}, False),
        (WHOLE, "ccc", {"tempo_bpm": 99.0}, False),
        (WHOLE, "ccc", {"whole": False, "first_bar": 1, "last_bar": 3}, False),
        (WHOLE, "ccc", {"line": TWIN}, False),
        (replace(WHOLE, bars=(2, 3)), "ccc", {"whole": False, "first_bar": 2, "last_bar": 4}, True),
        (replace(WHOLE, bars=(2, 3)), "ccc", {"whole": False, "first_bar": 3, "last_bar": 4}, False),
        (replace(WHOLE, bars=(2, 3)), "ccc", {}, True),
        (replace(WHOLE, set_at=NOON + timedelta(hours=1)), "ccc", {}, False),
    ],
)
def test_three_clean_passes_in_a_row_at_its_tempo_do_it(
    log: Log, asked: KeptAssignment, outcomes: str, changes: dict[str, object], done: bool
) -> None:
    log.change(set_assignments, "week.toml", [asked], NOW)
    for number, letter in enumerate(outcomes, 1):
        log.add(played(number, Outcome.CLEAN if letter == "c" else Outcome.MISSED, **changes))
    [standing] = log.ask(standings)
    assert (standing.done == date(2031, 3, 1)) is done
    assert standing.state(date(2031, 3, 9)) == ("done" if done else "late")
    assert standing.state(date(2031, 3, 8)) == ("done" if done else "")


def test_clean_passes_of_two_days_are_not_in_a_row(log: Log) -> None:
    log.change(set_assignments, "week.toml", [WHOLE], NOW)
    for number in range(GOAL_PASSES):
        log.add(played(number, at=NOON + timedelta(days=number)))
    assert log.ask(standings)[0].done is None


def test_an_export_and_another_log_carry_assignments_and_undoing_takes_them_out(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log.open(path, now=clock) as one:
        one.change(set_assignments, "week.toml", [WHOLE, BARS], NOW)
        text = one.ask(lambda db: list(write_json(db)))
    for held in (read_export(text, "export"), read_log(path)):
        with Log.open(None, now=clock) as other:
            brought = other.change(import_all, held.passes, held.goals, "export", NOW, assigned=held.assignments)
            assert (brought.goals, brought.assignments) == (1, 2)
            assert other.ask(assignments) == (WHOLE, BARS)
            again = other.change(import_all, held.passes, held.goals, "export", NOW, assigned=held.assignments)
            assert again == (0, 0, 0, 0)
            assert other.change(undo_import, NOW) == ("export", 0, 1, 2)
            assert (other.ask(assignments), other.ask(goals)) == ((), ())


def test_what_the_log_asks_for_already_stays_when_another_is_brought_in(log: Log) -> None:
    log.change(set_assignments, "week.toml", [WHOLE], NOW)
    brought = log.change(import_all, [], [], "export", NOW, assigned=[replace(WHOLE, tempo_bpm=140.0), BARS])
    assert brought.assignments == 1
    assert log.ask(assignments) == (WHOLE, BARS)
    log.change(undo_import, NOW)
    assert log.ask(assignments) == (WHOLE,)


def test_a_log_of_the_version_before_has_room_for_assignments(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    db = sqlite3.connect(path, isolation_level=None)
    before = next(number for number, script in enumerate(MIGRATIONS) if "TABLE assignments" in script)
    migrate(db, MIGRATIONS[:before])
    db.close()
    with Log.open(path, now=clock) as log:
        assert log.kept
        log.change(set_assignments, "week.toml", [WHOLE], NOW)
        assert log.ask(assignments) == (WHOLE,)


@pytest.mark.parametrize(
    "wrong",
    [{"tempo_bpm": 0}, {"tempo_bpm": 1e9}, {"minutes": -1}, {"bars": [3]}, {"bars": [3, 2]}, {"bars": [0, 2]}],
)
def test_what_no_teacher_can_ask_for_is_not_brought_in(wrong: dict[str, object]) -> None:
    values = {"line": list(LEAD), "tempo_bpm": 100, "set_at": NOON.isoformat()}
    read(KeptAssignment, values)
    with pytest.raises(NotUnderstoodError):
        read(KeptAssignment, values | wrong)
