"""Figures and dates that cannot be: refused when they come in, and stopping nobody when they are there."""

import json
import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.logged import newest_passes
from tests.practice.made import LEAD, clock, played
from trainer.music.problem import ProblemsError
from trainer.practice import reading
from trainer.practice.export import read_export, write_csv, write_json
from trainer.practice.forecast import forecast
from trainer.practice.goals import Goal, goals, put_goal
from trainer.practice.log import Log
from trainer.practice.loop_ladders import LoopBars, loop_ladder
from trainer.practice.recording import keep_ladder
from trainer.practice.tally import rebuild


def export(**changes: Any) -> list[str]:
    """An export of one pass and one goal with some values changed; `None` leaves a key out."""
    with Log.open(None, now=clock) as log:
        log.add(played(1))
        log.change(put_goal, Goal("1" * 32, LEAD, 160.0, date(2031, 4, 1), clock()))
        whole = json.loads("".join(log.ask(lambda db: list(write_json(db)))))
    for key, value in changes.items():
        about, _, name = key.partition("_")
        if not name:
            whole[about] = value
        elif value is None:
            del whole[f"{about}s" if about == "goal" else "passes"][0][name]
        else:
            whole["goals" if about == "goal" else "passes"][0][name] = value
    return [json.dumps(whole)]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"passes": "x"}, '"passes" must be a list'),
        ({"goals": {}}, '"goals" must be a list'),
        ({"pass_at": "9999-12-31T23:59:59-14:00"}, "Number 1 of the passes is wrong: no pass was played at 9999"),
        ({"pass_at": "0001-01-01T00:00:00+14:00"}, "Number 1 of the passes is wrong: no pass was played at 0001"),
        ({"pass_at": "2031-03-01T12:00:00"}, "needs a time zone"),
        ({"pass_day": "2031-02-30"}, '"day" invalid'),
        ({"pass_seconds": 1e308}, r"a pass cannot last 1e\+308 seconds"),
        ({"pass_seconds": float("nan")}, "a pass cannot last nan seconds"),
        ({"pass_tempo_bpm": 1e308}, r"1e\+308 bpm is no tempo"),
        ({"pass_first_bar": 10**400}, "bar"),
        ({"pass_whole": "yes"}, '"whole" must be true or false'),
        ({"pass_uuid": 3}, '"uuid" must be a text'),
        ({"pass_way": "\ud800"}, "cut inside a character"),
        ({"pass_verdict": {"outcome": "perfect"}}, "verdict.outcome"),
        ({"pass_verdict": {"outcome": "clean", "measured": {"bias_ms": 1e308}}}, "bias_ms is 1e.308"),
        ({"pass_riff": None}, '"riff" is missing'),
        ({"pass_seconds": None}, '"seconds" is missing'),
        ({"goal_target_bpm": 1e308}, r"Number 1 of the goals is wrong: 1e\+308 bpm is no target"),
        ({"goal_set_at": "0001-01-01T00:00:00+14:00"}, "no goal was set"),
        ({"goal_by": "soon"}, '"by"'),
    ],
    ids=str,
)
def test_what_cannot_be_is_refused_in_a_sentence_with_its_place(changes: dict[str, Any], told: str) -> None:
    assert len(read_export(export(), "x")[0]) == 1
    with pytest.raises(ProblemsError, match=told):
        read_export(export(**changes), "x")


ODD = (
    "UPDATE passes SET at_ms = 253402350599000",
    "UPDATE passes SET at_ms = -62135647200000",
    "UPDATE passes SET day = 0",
    "UPDATE passes SET seconds = 1e308, tempo_bpm = 1e308",
    "UPDATE passes SET seconds = 9e999",
    """UPDATE passes SET verdict = '{"outcome":"clean","measured":{"bias_ms":1e308}}'""",
    "UPDATE passes SET verdict = 'x'",
    "UPDATE passes SET outcome = 'perfect', verdict = '{}'",
    "UPDATE goals SET set_ms = 253402350599000, state = 'lost'",
    "UPDATE goals SET by_day = -5, target_bpm = 1e308",
    "UPDATE ladders SET position = '[' ",
    "UPDATE ladders SET position = '{\"tempo_bpm\": -3}'",
)


@pytest.mark.parametrize("odd", ODD)
def test_odd_rows_stop_neither_the_record_nor_the_export(tmp_path: Path, odd: str) -> None:
    path = tmp_path / "log.sqlite"
    with Log.open(path, now=clock) as log:
        log.add(played(1))
        log.change(put_goal, Goal("1" * 32, LEAD, 160.0, date(2031, 4, 1), clock()))
        log.change(keep_ladder, LEAD, {"tempo_bpm": 100.0}, 1)
    db = sqlite3.connect(path)
    db.execute(odd)
    db.commit()
    if "verdict = 'x'" not in odd:
        rebuild(db)
        db.commit()
    db.close()
    with Log.open(path, now=clock) as log:
        log.add(played(2))
        days = log.ask(reading.days, date.min, date.max)
        assert all(day.seconds < 1e10 for day in days)
        for record in (*log.ask(reading.exercises).values(), *log.ask(reading.lines, LEAD.exercise)):
            datetime.fromtimestamp(record.last_ms / 1000, UTC)
            assert record.seconds < 1e10
        assert 1 <= len(log.ask(newest_passes)) <= 2
        log.ask(reading.totals), log.ask(reading.practised_days), log.ask(reading.line_tempos, LEAD)
        forecast(log.ask(reading.line_days, LEAD), 160, clock().date(), Random(1))
        log.ask(reading.ladder, LEAD), log.ask(loop_ladder, LEAD, LoopBars("a1", 1, 2))
        assert len(log.ask(goals)) == (0 if "goals" in odd else 1)
        text = "".join(log.ask(lambda db: list(write_json(db))))
        log.ask(lambda db: list(write_csv(db)))
    assert read_export(text.splitlines(keepends=True), "again")[0]
