"""Assignments in a TOML file: what is read, and that every mistake is told with its place."""

from datetime import date

import pytest

from trainer.exchange.assignment import Assignment, read_assignments
from trainer.music.problem import ProblemsError

WEEK = """\
from = "Ines"

[assignments.gallop]
exercise = "iron-causeway"
riff = "Low road"
bars = [1, 2]
tempo = 132
by = 2030-01-15
minutes = 10
note = "Loose wrist."
"""


def test_an_assignment_says_what_to_practise_how_fast_and_by_when() -> None:
    asked = read_assignments(WEEK, "week.toml")
    assert asked.teacher == "Ines"
    assert asked.each == {
        "gallop": Assignment(
            "iron-causeway", "Low road", 132.0, "guitar 1", (1, 2), date(2030, 1, 15), 10, "Loose wrist."
        )
    }


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("tempo = 132", "tempo = 4000", "week.toml:7:1", "20 to 400"),
        ("tempo = 132", "", "week.toml:3:2", '"tempo" is missing'),
        ("tempo = 132", 'tempo = "fast"', "week.toml:7:1", "tempo must be a number"),
        ("bars = [1, 2]", "bars = [2, 1]", "week.toml:6:1", "the first and the last bar"),
        ("bars = [1, 2]", 'bars = "1-2"', "week.toml:6:1", "the first and the last bar"),
        ("by = 2030-01-15", 'by = "soon"', "week.toml:8:1", "by must be a date"),
        ("minutes", "minuts", "week.toml:9:1", 'Did you mean "minutes"'),
        ("from", "form", "week.toml:1:1", 'Did you mean "from"'),
        ("minutes = 10", "minutes = -3", "week.toml:9:1", "0 to 240"),
        ("[assignments.gallop]", "[assignments.gallop", "week.toml:3:20", "not valid TOML"),
    ],
)
def test_a_mistake_is_told_with_its_place(old: str, new: str, place: str, message: str) -> None:
    assert old in WEEK
    with pytest.raises(ProblemsError) as told:
        read_assignments(WEEK.replace(old, new), "week.toml")
    assert any(problem.place == place and message in str(problem) for problem in told.value.problems), str(told.value)


HUGE = {
    "number": (f"tempo = {'9' * 4400}", "week.toml:7: a number too long"),
    "key": (f"{'a.' * 5000}b = 1", "week.toml:7:1: a key of 5001 names"),
    "list": (f"tempo = {'[' * 5000}", "week.toml:1: its lists or tables are nested too deeply"),
}
"""What a text that was sent may hold to do harm, and what is said of it."""


@pytest.mark.parametrize("kind", HUGE)
def test_a_text_that_asks_too_much_is_told(kind: str) -> None:
    line, message = HUGE[kind]
    with pytest.raises(ProblemsError) as told:
        read_assignments(WEEK.replace("tempo = 132", line), "week.toml")
    assert str(told.value).startswith(message)


@pytest.mark.parametrize("text", ["", 'from = "Ines"', "assignments = 3", "[assignments]"])
def test_a_file_that_asks_for_nothing_is_refused(text: str) -> None:
    with pytest.raises(ProblemsError, match="asks for nothing"):
        read_assignments(text, "week.toml")


def test_every_mistake_is_told_at_once() -> None:
    with pytest.raises(ProblemsError) as told:
        read_assignments(WEEK.replace("132", "0").replace("[1, 2]", "[0, 2]"), "week.toml")
    assert len(told.value.problems) == 2
