import random
import sqlite3
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.logged import newest_passes
from tests.practice.made import LEAD, NOON, TWIN, clock, heard, many, played
from trainer.practice import goals, reading, sittings
from trainer.practice.goals import Goal, GoalState
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.schema import COUNTED
from trainer.practice.sittings import Place
from trainer.practice.tally import rebuild
from trainer.practice.verdict import CLEAN, MISSED, Measured, Outcome, Reason, Verdict


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log.sqlite", now=clock, sitting="s1", process=1) as log:
        yield log


def counted(db: sqlite3.Connection) -> dict[str, list[tuple[Any, ...]]]:
    """Every derived table, sums rounded as adding in another order may differ in the last digit."""
    return {
        table: sorted(
            (
                tuple(round(value, 6) if isinstance(value, float) else value for value in row)
                for row in db.execute(f"SELECT * FROM {table}")
            ),
            key=repr,
        )
        for table in COUNTED
    }


def rebuilt(db: sqlite3.Connection) -> dict[str, list[tuple[Any, ...]]]:
    db.execute("BEGIN")
    rebuild(db)
    answer = counted(db)
    db.execute("ROLLBACK")
    return answer


def test_a_pass_comes_back_as_it_was_played(log: Log) -> None:
    verdict = Verdict(
        Outcome.MISSED,
        reasons=(Reason("The last sixteenth of bar 3 is 14 ms late.", 3, "4 a", "second sixteenth"),),
        measured=Measured(bias_ms=-4.5, spread_ms=11.0, gallop_ratio=1.8, gallop_low=1.7, gallop_high=1.9, notes=44),
    )
    one = played(1, verdict, way="burst", first_bar=3, last_bar=3, whole=False, tempo_bpm=178.0)
    log.add(one)
    assert log.ask(newest_passes) == (one,)


def test_the_record_of_a_line(log: Log) -> None:
    log.add(played(1, tempo_bpm=100))
    log.add(played(2, tempo_bpm=104))
    log.add(played(3, Outcome.MISSED, tempo_bpm=108))
    log.add(played(4, Outcome.UNJUDGED, tempo_bpm=150))
    log.add(played(5, tempo_bpm=180, whole=False, first_bar=2, last_bar=2))
    record = log.ask(reading.line, LEAD)
    assert record is not None
    assert (record.passes, record.clean, record.missed) == (5, 3, 1)
    assert record.clean_share == 0.75
    assert record.best_bpm == 104 and record.best_ms == played(2).at_ms  # one bar at 180 is not the riff at 180
    assert record.seconds == pytest.approx(47.5)
    assert log.ask(reading.line, TWIN) is None
    assert log.ask(reading.exercises)["iron-causeway"].best_bpm == 104


def test_the_same_pass_twice_counts_once(log: Log) -> None:
    log.add(played(1))
    log.add(played(1))
    assert log.ask(reading.totals).passes == 1


def test_days_tempos_and_bars(log: Log) -> None:
    log.add(played(1, Outcome.MISSED, tempo_bpm=99.6))
    log.add(played(2, tempo_bpm=100.4))
    log.add(
        played(
            3,
            Verdict(Outcome.MISSED, reasons=(Reason("Bar 3 lost a note.", 3),), measured=Measured(bias_ms=4)),
            at=NOON + timedelta(days=2),
        )
    )
    log.add(played(4, Outcome.MISSED, at=NOON + timedelta(days=2, hours=1), first_bar=3, last_bar=4, whole=False))
    first, last = log.ask(reading.line_days, LEAD)
    assert (first.day, first.passes, first.first_outcome, first.best_bpm) == (date(2031, 3, 1), 2, "missed", 100.4)
    assert (last.day, last.passes, last.clean, last.bias_ms, last.spread_ms) == (date(2031, 3, 3), 2, 0, 4.0, None)
    (tempo,) = log.ask(reading.line_tempos, LEAD)
    assert (tempo.tempo_bpm, tempo.passes, tempo.clean, tempo.missed) == (100, 4, 1, 3)
    assert log.ask(reading.line_bars, LEAD) == ((3, 1, 1, 1), (4, 1, 1, 0))
    assert [d.passes for d in log.ask(reading.days, date(2031, 3, 1), date(2031, 3, 31))] == [2, 2]
    assert log.ask(reading.practised_days) == (date(2031, 3, 1).toordinal(), date(2031, 3, 3).toordinal())


def test_practice_after_midnight_belongs_to_the_evening_before(log: Log) -> None:
    log.add(played(1, at=NOON + timedelta(hours=14)))
    assert log.ask(reading.practised_days) == (date(2031, 3, 1).toordinal(),)


def test_a_changed_riff_says_so_and_keeps_both_records(log: Log) -> None:
    log.add(played(1, tempo_bpm=120))
    assert len(log.ask(reading.versions, LEAD)) == 1
    log.add(played(2, digest="b2", tempo_bpm=100))
    old, new = log.ask(reading.versions, LEAD)
    assert (old.digest, old.best_bpm, new.digest, new.best_bpm) == ("a1", 120, "b2", 100)


def test_a_line_is_due_again_later_when_the_first_attempt_was_clean(log: Log) -> None:
    log.add(played(1))
    log.add(played(2, Outcome.MISSED))
    log.add(played(3, Outcome.MISSED, line=TWIN))
    log.add(played(4, line=TWIN))
    due = {record.line: record.due for record in log.ask(reading.lines, LEAD.exercise)}
    assert due == {TWIN: date(2031, 3, 2), LEAD: date(2031, 3, 3)}
    assert log.ask(reading.exercises)["iron-causeway"].due_day == date(2031, 3, 2).toordinal()


def test_a_verdict_that_comes_later_takes_the_place_of_the_first(log: Log) -> None:
    log.add(played(1, Outcome.UNJUDGED, tempo_bpm=120))
    assert log.ask(reading.line, LEAD).best_bpm == 0  # type: ignore[union-attr]
    log.amend(played(1).uuid, CLEAN)
    record = log.ask(reading.line, LEAD)
    assert record is not None and (record.passes, record.clean, record.best_bpm) == (1, 1, 120)
    log.amend(played(1).uuid, MISSED)
    record = log.ask(reading.line, LEAD)
    assert record is not None and (record.passes, record.missed, record.best_bpm, record.best_ms) == (1, 1, 0, 0)
    log.amend("0" * 32, CLEAN)  # not in the log: nothing happens
    assert log.ask(reading.totals).passes == 1


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 40), st.lists(st.integers(0, 39), max_size=15))
def test_counts_kept_beside_the_passes_are_the_counts_derived_from_them(
    seed: int, size: int, amended: list[int]
) -> None:
    """In any order of arrival, and after any verdicts that came later."""
    chance = random.Random(seed)
    with Log.open(None, now=clock) as log:
        for one in many(size, seed):
            log.add(one)
        for number in amended:
            log.amend(f"{number:032x}", heard(chance, chance.choice(list(Outcome))))
        assert log.ask(counted) == log.ask(rebuilt)


def goal(number: int, target: float, **changes: Any) -> Goal:
    values: dict[str, Any] = {"uuid": f"{number:032x}", "line": LEAD, "target_bpm": target, "by": None, "set_at": NOON}
    return Goal(**(values | changes))


def test_goals_are_several_and_the_nearest_date_comes_first(log: Log) -> None:
    wanted = [
        goal(1, 168),
        goal(2, 140, by=date(2031, 9, 1)),
        goal(3, 120, by=date(2031, 5, 1)),
        goal(4, 150, line=TWIN),
    ]
    for one in wanted:
        log.change(goals.put_goal, one)
    assert [g.target_bpm for g in log.ask(goals.goals)] == [120, 140, 168, 150]
    log.change(goals.change_goal, goal(3, 120).uuid, GoalState.GIVEN_UP, 5)
    assert log.ask(goals.goals, "iron-causeway")[0].state is GoalState.GIVEN_UP
    assert len(log.ask(goals.goals, None, GoalState.KEPT)) == 3
    with pytest.raises(ValueError, match="no target"):
        goal(5, 0)


def test_a_goal_is_reached_by_three_clean_passes_in_a_row_at_its_tempo(log: Log) -> None:
    log.change(goals.put_goal, goal(1, 104))
    outcomes = [CLEAN, CLEAN, MISSED, CLEAN, CLEAN]
    for number, verdict in enumerate(outcomes):
        assert log.add(played(number, verdict, tempo_bpm=104)) == ()
    assert log.add(played(8, tempo_bpm=180, whole=False, last_bar=1)) == ()
    (reached,) = log.add(played(9, tempo_bpm=106))
    assert reached.uuid == goal(1, 104).uuid
    assert log.ask(goals.goals)[0].state is GoalState.REACHED
    assert log.add(played(10, tempo_bpm=106)) == ()


def test_where_the_player_was_is_kept_with_the_pass(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    place = Place(LEAD, 2, 3, 104.0, "Rack 1", "building", ("guitar 2",))
    first = Log.open(path, now=clock, sitting="one", process=11)
    first.add(played(1), ladder={"tempo_bpm": 104.0}, place=place)
    with Log.open(path, now=clock, sitting="two", process=12) as log:
        assert {sitting.id: sitting.place for sitting in log.ask(sittings.sittings)} == {"one": place, "two": None}
        assert log.ask(reading.ladder, LEAD) == {"tempo_bpm": 104.0}
        assert log.ask(reading.ladder, TWIN) is None
        assert log.ask(sittings.ports_to_silence, lambda process: False, "two") == ("Rack 1",)
        assert log.ask(sittings.ports_to_silence, lambda process: process == 11, "two") == ()  # a window still open
        log.change(sittings.silenced, lambda process: False, 9, "two")
        assert log.ask(sittings.ports_to_silence, lambda process: False, "two") == ()
        assert {sitting.id: sitting.place for sitting in log.ask(sittings.sittings)} == {"one": place, "two": None}
    first.close()


def test_a_sitting_that_ended_in_order_leaves_no_port_to_silence(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log.open(path, now=clock, sitting="one", process=11) as log:
        log.change(sittings.use_port, "one", "Rack 1")
    with Log.open(path, now=clock, sitting="two", process=12) as log:
        assert log.ask(sittings.ports_to_silence, lambda process: False, "two") == ()


def test_what_was_put_away_stays_away(log: Log) -> None:
    log.change(sittings.mark_seen, "hearing", 1)
    log.change(sittings.mark_seen, "hearing", 2)
    assert log.ask(sittings.seen) == {"hearing"}


def test_names_are_only_names(log: Log) -> None:
    odd = Line("'; DROP TABLE passes; --", "\x1b[31m[b]red[/b]", "guitar 1\n")
    log.add(played(1, line=odd))
    assert log.ask(reading.line, odd).line == odd  # type: ignore[union-attr]
    assert log.ask(newest_passes)[0].line == odd


@pytest.mark.parametrize(
    "changes",
    [
        {"uuid": "x"},
        {"tempo_bpm": 0},
        {"tempo_bpm": float("nan")},
        {"seconds": -1},
        {"first_bar": 5},
        {"at": NOON.replace(tzinfo=None)},
    ],
)
def test_a_pass_is_valid_or_not_at_all(changes: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r".+"):
        played(1, **changes)
