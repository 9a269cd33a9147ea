"""Assignments: what a teacher asks of a student, in a TOML file that both can read.

    from = "Ines"

    [assignments.gallop]
    exercise = "iron-causeway"
    riff = "Low road"
    part = "guitar 1"
    bars = [1, 4]
    tempo = 132
    by = 2027-01-15
    minutes = 10
    note = "Loose wrist. Stop when it tires."

A table's name is the teacher's own. `exercise`, `riff` and `tempo` are needed.
"""

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, fields
from datetime import date, datetime
from typing import Annotated, Any

from trainer.music.exercise import Exercise
from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.notation.toml_slips import bounds_slip, syntax_slip
from trainer.practice.assigned import KeptAssignment
from trainer.practice.line import Line
from trainer.toml_place import TomlPlaces
from trainer.values import read_each, within

MOST_MINUTES = 240
MOST_ASSIGNMENTS = 200
LONGEST_NOTE = 2000
"""Characters: a teacher's note is a paragraph, not a book."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """One thing to practise.

    >>> Assignment("iron-causeway", "Low road", 132.0).part
    'guitar 1'
    """

    exercise: str
    """The exercise's id."""
    riff: str
    tempo: Annotated[float, within(float(SLOWEST_BPM), float(FASTEST_BPM))]
    """The tempo to reach, in bpm."""
    part: str = "guitar 1"
    bars: tuple[int, ...] = ()
    """The first and the last bar, counted from 1; empty for the whole riff."""
    by: date | None = None
    """The day it should be ready; None when there is no hurry."""
    minutes: Annotated[int, within(0, MOST_MINUTES)] = 0
    """Minutes a day; 0 when the teacher leaves it open."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Assignments:
    """A teacher's whole file."""

    teacher: str
    """Who asks; empty when the file does not say."""
    each: dict[str, Assignment]
    """By the names the teacher gave them, in the order of the file."""
    places: TomlPlaces
    """Where each key stands, for what only the exercises can tell."""


def read_assignments(text: str, file: str) -> Assignments:
    """The assignments in a TOML text.

    Args:
        text: the file's text.
        file: its name, for problems.

    Raises:
        ProblemsError: everything that is wrong, each with its place.
    """
    values: dict[str, Any] = {}
    slip = bounds_slip(text)
    if slip is None:
        try:
            values = tomllib.loads(text)
        except (
            ValueError,
            RecursionError,
        ) as error:  # a plain ValueError for a number of more digits than Python reads
            slip = syntax_slip(text, error)
    if slip:
        line, column, what, hint = slip
        raise ProblemsError([Problem(file, line, column, what, hint=hint)])
    places = TomlPlaces(text)
    problems = [Problem(file, *places.of(path), what, allowed, hint) for path, what, allowed, hint in _outside(values)]
    each: dict[str, Assignment] = {}
    tables = values.get("assignments")
    for name, table in tables.items() if isinstance(tables, dict) else ():
        found = list(_inside(table))
        problems += [
            Problem(file, *places.of(("assignments", name, key)), what, allowed, hint)
            for key, what, allowed, hint in found
        ]
        if not found:
            each[name] = Assignment(**read_each(Assignment, table)[0])
    if problems:
        raise ProblemsError(problems)
    return Assignments(str(values.get("from", "")), each, places)


def lines_of(asked: Assignments, file: str, read: Callable[[str], Exercise]) -> dict[str, Line]:
    """The riff and part of each assignment, as the exercises write them.

    Args:
        asked: the teacher's file.
        file: its name, for problems.
        read: gives the exercise of an id. May raise ProblemsError.

    Raises:
        ProblemsError: every riff, part and bar that is not there, each with its place.
    """
    problems: list[Problem] = []
    lines: dict[str, Line] = {}
    for name, assignment in asked.each.items():
        found = _line(assignment, read)
        if isinstance(found, Line):
            lines[name] = found
        else:
            key, what, hint = found
            problems.append(Problem(file, *asked.places.of(("assignments", name, key)), what, hint=hint))
    seen: dict[Line, str] = {}
    for name, line in lines.items():
        if line in seen:
            place = asked.places.of(("assignments", name, "riff"))
            what = f'"{printable(seen[line])}" asks for the same riff and part already'
            problems.append(Problem(file, *place, what, hint="Make one of the two"))
        seen[line] = name
    if problems:
        raise ProblemsError(problems)
    return lines


def kept(asked: Assignments, lines: dict[str, Line], source: str, at: datetime) -> tuple[KeptAssignment, ...]:
    """What a teacher asks for as the log keeps it.

    Args:
        asked: the teacher's file.
        lines: the riff and part of each assignment that is to be kept, by its name (`lines_of`).
        source: the file, or the set, in which it came.
        at: now, with a time zone.
    """
    return tuple(
        KeptAssignment(
            line, float(each.tempo), at, name, asked.teacher, source, each.bars, each.by, each.minutes, each.note
        )
        for name, line in lines.items()
        for each in (asked.each[name],)
    )


def _line(assignment: Assignment, read: Callable[[str], Exercise]) -> Line | tuple[str, str, str]:
    """The line it names, or the key that names nothing, what is wrong, and a hint."""
    if "/" in assignment.exercise or "\\" in assignment.exercise:  # another's file opens nothing outside the library
        return "exercise", f'"{printable(assignment.exercise)}" is a path', "Name the exercise by its id"
    try:
        exercise = read(assignment.exercise)
    except ProblemsError as error:
        first = error.problems[0]
        return "exercise", f'the exercise "{printable(assignment.exercise)}" cannot be read: {first.what}', first.hint
    names = [riff.name for riff in exercise.riffs]
    riff = next((riff for riff in exercise.riffs if riff.name.casefold() == assignment.riff.casefold()), None)
    if riff is None:
        return "riff", f'no riff "{printable(assignment.riff)}" in {exercise.title}', _hint(assignment.riff, names)
    if assignment.part not in riff.part_names:
        parts = list(riff.part_names)
        return "part", f'no part "{printable(assignment.part)}" in {riff.name}', _hint(assignment.part, parts)
    if assignment.bars and assignment.bars[1] > len(riff.meters):
        return "bars", f"{riff.name} has {len(riff.meters)} bars", "Name bars that it has"
    return Line(exercise.id, riff.name, assignment.part)


def _hint(word: str, names: list[str]) -> str:
    meant = nearest(word, names)
    return f'Did you mean "{meant}"?' if meant else f"It has: {', '.join(names)}"


def _outside(values: dict[str, Any]) -> Iterator[tuple[tuple[str, ...], str, str, str]]:
    """What is wrong around the assignments: path, what, allowed, hint."""
    for key in values.keys() - {"from", "assignments"}:
        yield (key,), f'there is no key "{key}" here', "from, assignments", _meant(key, ("from", "assignments"))
    if not isinstance(values.get("from", ""), str):
        yield ("from",), "from must be a text in quotes", "", ""
    tables = values.get("assignments")
    if not isinstance(tables, dict) or not tables:
        yield ("assignments",), "the file asks for nothing", "", "Begin a table for each riff, as [assignments.gallop]"
    elif len(tables) > MOST_ASSIGNMENTS:
        yield ("assignments",), f"there are more than {MOST_ASSIGNMENTS} assignments", "", "Send several files"


def _inside(table: object) -> Iterator[tuple[str, str, str, str]]:
    """What is wrong in one assignment: key, what, allowed, hint."""
    if not isinstance(table, dict):
        yield "", "an assignment must be a table", "", "Write it as [assignments.gallop] and its keys below"
        return
    known = [field.name for field in fields(Assignment)]
    for key in table.keys() - set(known):
        yield key, f'an assignment has no key "{key}"', ", ".join(known), _meant(key, known)
    for field in fields(Assignment):
        if field.default is MISSING and field.name not in table:
            yield field.name, f'"{field.name}" is missing', "", ""
    understood, wrong = read_each(Assignment, table)
    for key, (what, allowed) in wrong.items():
        if key == "by":
            yield key, "by must be a date", "", "Write it without quotes, as 2027-01-15"
        elif key == "bars":
            yield key, "bars must be the first and the last bar", "", "Write them as [1, 4]"
        else:
            yield key, f"{key} {what}", allowed, ""
    bars = understood.get("bars", ())
    if bars and not (len(bars) == 2 and 1 <= bars[0] <= bars[1]):
        yield "bars", "bars must be the first and the last bar", "", "Write them as [1, 4]"
    if len(understood.get("note", "")) > LONGEST_NOTE:
        yield "note", f"the note is longer than {LONGEST_NOTE} characters", "", "Shorten it"


def _meant(key: str, known: tuple[str, ...] | list[str]) -> str:
    meant = nearest(key, known)
    return f'Did you mean "{meant}"?' if meant else ""
