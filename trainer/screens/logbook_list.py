"""The logbook's list: exercises, the ones practised last first, with the lines of one of them opened below it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from trainer.music.exercise import Exercise
from trainer.notation.head import Head
from trainer.notation.titles import folded
from trainer.practice.line import Line
from trainer.practice.reading import ExerciseRecord, LineRecord
from trainer.practice.today import guitar_parts
from trainer.screens.drawing.logbook_rows import Item


@dataclass(frozen=True, slots=True)
class LogList:
    """Rows by index, without a copy of ten thousand of them for every step of the cursor."""

    exercises: tuple[Item, ...] = ()
    opened: int = -1
    """The index among the exercises of the one whose lines are shown; -1 for none."""
    lines: tuple[Item, ...] = ()

    def __len__(self) -> int:
        """Rows."""
        return len(self.exercises) + len(self.lines)

    def __getitem__(self, index: int) -> Item:
        """The row at an index."""
        if index <= self.opened:
            return self.exercises[index]
        if index <= self.opened + len(self.lines):
            return self.lines[index - self.opened - 1]
        return self.exercises[index - len(self.lines)]

    def exercise_at(self, index: int) -> int:
        """The number of the exercise that the row at an index is, or belongs to."""
        if index <= self.opened:
            return index
        return max(self.opened, index - len(self.lines))

    def open(self, number: int, lines: Iterable[Item]) -> "LogList":
        """The list with another exercise opened."""
        return replace(self, opened=number, lines=tuple(lines))

    def number_of(self, exercise: str) -> int:
        """The number of an exercise by id; -1 where it is not listed."""
        return next((number for number, item in enumerate(self.exercises) if item.exercise == exercise), -1)

    def found(self, words: str, after: int) -> int:
        """The number of the next exercise, after one, with all the words in its title or id; -1 for none."""
        wanted = folded(words).split()
        count = len(self.exercises)
        for step in range(1, count + 1):
            item = self.exercises[(after + step) % count]
            text = folded(f"{item.title} {item.exercise}")
            if wanted and all(word in text for word in wanted):
                return (after + step) % count
        return -1


def exercise_items(heads: Iterable[Head], records: Mapping[str, ExerciseRecord]) -> tuple[Item, ...]:
    """All exercises: those that were practised, the last one first, then the others by title."""
    titles: dict[str, str] = {}
    for head in heads:
        if not head.problem:
            titles.setdefault(head.id, head.title)
    played = sorted(records.values(), key=lambda record: -record.last_ms)
    fresh = sorted((title, name) for name, title in titles.items() if name not in records)
    return (
        *(Item(record.exercise, titles.get(record.exercise, record.exercise), record) for record in played),
        *(Item(name, title) for title, name in fresh),
    )


def line_items(item: Item, records: Sequence[LineRecord], exercise: Exercise | None) -> tuple[Item, ...]:
    """The lines of an exercise: those on record, and those its file has beside them."""
    lines = [Item(item.exercise, item.title, item.record, record) for record in records]
    known = {record.line for record in records}
    for riff in exercise.riffs if exercise else ():
        for part in guitar_parts(riff):
            line = Line(item.exercise, riff.name, part)
            if line not in known:
                lines.append(Item(item.exercise, item.title, item.record, unplayed(line)))
    return tuple(lines)


def unplayed(line: Line) -> LineRecord:
    """The record of a line that was never played."""
    return LineRecord(line, "", 0, 0, 0, 0.0, 0.0, 0, 0, None, None)
