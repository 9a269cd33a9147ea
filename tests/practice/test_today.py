"""What a plan is made from: which exercises, and what the record says of their lines."""

from datetime import date

from tests.notation.iron import IRON
from tests.open_logs import closed_later
from tests.practice.made import LEAD, NOON, clock, played
from trainer.notation.read import read
from trainer.practice import reading
from trainer.practice.goals import Goal, put_goal
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.plan import MOST_KNOWN, MOST_NEW, candidates, exercises_for_today, guitar_parts
from trainer.practice.reading import ExerciseRecord
from trainer.practice.verdict import Outcome

TODAY = date(2031, 3, 1)
IRON_CAUSEWAY = read(IRON, "iron-causeway.md")


def _record(name: str, due: int | None, last: int = 0) -> ExerciseRecord:
    return ExerciseRecord(name, 1, 1, 0, 10.0, 100.0, last, None if due is None else TODAY.toordinal() + due)


def test_the_longest_due_come_first_and_a_few_new_ones_last() -> None:
    records = {name: _record(name, due) for name, due in (("a", 3), ("b", -2), ("c", 0), ("d", None))}
    shelf = ["new 1", "a", "b", "new 2", "c", "d", "new 3"]
    assert exercises_for_today(shelf, records, TODAY) == ("b", "c", "d", "a", "new 1", "new 2")
    assert MOST_NEW == 2


def test_a_plan_looks_into_no_more_than_it_can_use() -> None:
    records = {str(i): _record(str(i), 0) for i in range(50)}
    assert len(exercises_for_today(list(records), records, TODAY)) == MOST_KNOWN


def test_what_is_recorded_of_files_that_are_gone_is_left_out() -> None:
    assert exercises_for_today(["a"], {"gone": _record("gone", -9)}, TODAY) == ("a",)


def test_the_guitars_are_practised_not_the_drums() -> None:
    assert guitar_parts(IRON_CAUSEWAY.riffs[0]) == ("guitar 1",)
    assert guitar_parts(IRON_CAUSEWAY.riffs[1]) == ("guitar 1", "guitar 2")


def test_candidates_say_what_the_record_knows() -> None:
    log = closed_later(Log.open(None, now=clock))
    for number, outcome in enumerate([Outcome.CLEAN] * 3 + [Outcome.MISSED]):
        log.add(played(number, outcome, tempo_bpm=96.0), ladder={"tempo_bpm": 100.0})
    log.change(put_goal, Goal("0" * 32, Line("iron-causeway", "Signal fires", "guitar 2"), 140, None, NOON))
    found = {candidate.line: candidate for candidate in candidates([IRON_CAUSEWAY], log)}
    known = found[LEAD]
    assert (known.best_bpm, known.clean_share, known.tempo_bpm, known.target_bpm) == (96, 0.75, 100, 168)
    assert known.due == log.ask(reading.line, LEAD).due
    fresh = found[Line("iron-causeway", "Signal fires", "guitar 2")]
    assert (fresh.best_bpm, fresh.due, fresh.wanted) == (0, None, True)
    assert not known.wanted
    log.close()
