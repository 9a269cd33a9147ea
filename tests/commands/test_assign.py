"""assign: a teacher's file becomes goals, whole or not at all."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands.conftest import Call
from tests.exchange.test_assignment import WEEK

WHOLE = WEEK.replace("bars = [1, 2]\n", "")
"""The same for the whole riff."""


@pytest.fixture
def week(home: Path) -> Path:
    """A teacher's file in the folder that commands run in."""
    path = home / "work" / "week.toml"
    path.write_text(WEEK)
    return path


def _goals(call: Call) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(call("goals", "--json").out)
    return found


def test_what_a_teacher_asks_for_is_kept_and_a_whole_riffs_tempo_becomes_a_goal_once(call: Call, week: Path) -> None:
    week.write_text(WHOLE)
    told = call("assign", "week.toml")
    assert told.code == 0
    assert "From Ines:" in told.out and "goals set: 1" in told.out
    assert "Low road, guitar 1: 132 bpm, by 2030-01-15, 10 minutes a day" in told.out and "Loose wrist." in told.out
    [goal] = _goals(call)
    assert (goal["exercise"], goal["riff"], goal["part"]) == ("iron-causeway", "Low road", "guitar 1")
    assert (goal["target_bpm"], goal["by"]) == (132, "2030-01-15")
    assert "goals set: 0" in call("assign", "week.toml").out
    assert len(_goals(call)) == 1


def test_bars_are_kept_in_the_teachers_words_and_are_no_goal(call: Call, week: Path) -> None:
    assert "goals set: 0" in call("assign", "week.toml").out
    assert _goals(call) == []
    [kept] = json.loads(call("assign", "--json").out)
    assert (kept["name"], kept["bars"], kept["tempo_bpm"], kept["minutes"]) == ("gallop", [1, 2], 132, 10)
    assert (kept["note"], kept["teacher"], kept["source"]) == ("Loose wrist.", "Ines", "week.toml")
    assert "gallop  iron-causeway  Low road  1-2   guitar 1  132" in call("assign").out


def test_a_goal_that_was_given_up_stays_so_until_the_teacher_asks_for_something_else(call: Call, week: Path) -> None:
    week.write_text(WHOLE)
    call("assign", "week.toml")
    call("goals", "--give-up", "1")
    call("assign", "week.toml")
    assert [goal["state"] for goal in _goals(call)] == ["given up"]
    week.write_text(WHOLE.replace("132", "140"))
    call("assign", "week.toml")
    assert [(goal["state"], goal["target_bpm"]) for goal in _goals(call)] == [("kept", 140)]


@pytest.mark.parametrize("name", ["gallop", "week.toml", "some folder/week.toml"])
def test_what_a_teacher_asked_for_is_taken_away_by_its_name_or_its_file(call: Call, week: Path, name: str) -> None:
    week.write_text(WHOLE)
    call("assign", "week.toml")
    told = call("assign", "--remove", name)
    assert told.code == 0 and "1 assignment is taken away" in told.out
    assert (_goals(call), json.loads(call("assign", "--json").out)) == ([], [])
    assert "Nothing is assigned" in call("assign").out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--remove", "galop"), 'Did you mean "gallop"?'),
        (("week.toml", "--remove", "gallop"), "give one of the two"),
        (("--check",), "needs a file"),
        (("week.toml", "--json"), "leave the file out"),
    ],
)
def test_a_call_that_cannot_be_is_a_sentence(call: Call, week: Path, words: tuple[str, ...], message: str) -> None:
    call("assign", "week.toml")
    told = call("assign", *words)
    assert told.code == 2 and message in told.err
    assert len(json.loads(call("assign", "--json").out)) == 1


def test_checking_sets_nothing(call: Call, week: Path) -> None:
    assert "Nothing is wrong" in call("assign", "week.toml", "--check").out
    assert (_goals(call), json.loads(call("assign", "--json").out)) == ([], [])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("Low road", "Low rod", 'Did you mean "Low road"'),
        ("[1, 2]", "[1, 999]", "week.toml:6:1"),
        ("minutes = 10", 'part = "guitar 9"', 'no part "guitar 9"'),
        ("iron-causeway", "../iron", "is a path"),
        ("iron-causeway", "iron-causway", "week.toml:4:1"),
    ],
)
def test_one_mistake_and_nothing_is_set(call: Call, week: Path, old: str, new: str, message: str) -> None:
    good = WEEK.split("\n", 2)[2].replace("gallop", "other").replace('riff = "Low road"', 'riff = "low road"')
    week.write_text(WEEK.replace(old, new) + good.replace("bars", 'part = "guitar 2"\nbars'))
    told = call("assign", "week.toml")
    assert told.code == 1 and message in told.err
    assert _goals(call) == []


def test_two_assignments_for_one_part_are_refused(call: Call, week: Path) -> None:
    week.write_text(WEEK + WEEK.split("\n", 2)[2].replace("gallop", "other"))
    told = call("assign", "week.toml")
    assert told.code == 1 and "asks for the same riff and part already" in told.err
    assert _goals(call) == []


def test_escapes_in_a_teachers_words_are_shown_and_do_nothing(call: Call, week: Path) -> None:
    week.write_text(WEEK.replace("Loose wrist.", "\\u001b[31mred"))
    assert "\x1b" not in call("assign", "week.toml").out
