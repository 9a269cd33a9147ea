"""What could be played today: which exercises to look into, and their lines with what the record says of each."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from trainer.music.exercise import Exercise
from trainer.music.part import DrumPart
from trainer.music.riff import Riff
from trainer.practice import reading
from trainer.practice.goals import GoalState, goals
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.plan import Candidate, hardest_bar
from trainer.practice.reading import ExerciseRecord

MOST_KNOWN = 12
"""Exercises under practice that a plan is made from, the longest due first."""
MOST_NEW = 2
"""Exercises that were never practised and may be begun. House rules both: a plan is for one sitting."""


def exercises_for_today(shelf: Sequence[str], records: Mapping[str, ExerciseRecord], today: date) -> tuple[str, ...]:
    """The ids of the exercises to plan with: those under practice, the longest due first, then the next new ones.

    Args:
        shelf: the ids of all exercises, in the order in which they are to be taken up.
        records: what the log says of those that were practised.
        today: the day of practice it is now.
    """
    known = [name for name in dict.fromkeys(shelf) if name in records]
    known.sort(key=lambda name: (records[name].due_day or today.toordinal() + 1, records[name].last_ms))
    fresh = [name for name in dict.fromkeys(shelf) if name not in records]
    return (*known[:MOST_KNOWN], *fresh[:MOST_NEW])


def guitar_parts(riff: Riff) -> tuple[str, ...]:
    """The parts of a riff that are practised: its guitars, or whatever has strings where there is no guitar."""
    strings = [part.name for part in riff.parts if not isinstance(part, DrumPart)]
    guitars = tuple(name for name in strings if name.startswith("guitar"))
    return guitars or tuple(strings)


def candidates(exercises: Iterable[Exercise], log: Log) -> tuple[Candidate, ...]:
    """Every line of the exercises' guitars, with what the record says of it."""
    wanted = {goal.line for goal in log.ask(goals, None, GoalState.KEPT)}
    found = []
    for exercise in exercises:
        records = {record.line: record for record in log.ask(reading.lines, exercise.id)}
        for riff in exercise.riffs:
            for part in guitar_parts(riff):
                line = Line(exercise.id, riff.name, part)
                record = records.get(line)
                ladder = log.ask(reading.ladder, line) if record else None
                found.append(
                    Candidate(
                        line=line,
                        start_bpm=float(riff.tempo.start),
                        target_bpm=float(riff.tempo.target),
                        due=record.due if record else None,
                        best_bpm=record.best_bpm if record else 0.0,
                        clean_share=record.clean_share if record else None,
                        hard_bar=hardest_bar(log.ask(reading.line_bars, line)) if record else None,
                        tempo_bpm=float(ladder["tempo_bpm"]) if ladder and "tempo_bpm" in ladder else None,
                        wanted=line in wanted,
                    )
                )
    return tuple(found)
