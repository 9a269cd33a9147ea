"""What the shelf reads in the background: the log, the folders, and whole files where they are in view."""

import time
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.message import Message
from textual.worker import get_current_worker

from trainer.screens.shelf_contents import WholeReading

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.notation.head import Head
    from trainer.practice.assigned import Standing
    from trainer.practice.reading import ExerciseRecord, LineRecord
    from trainer.session.machine import Exercises, Machine

AGAIN_SECONDS = 2.0
"""The folders are looked through again after so long, or later if looking takes long."""
LOOK_SECONDS = 0.4
"""Files in view are read whole after so long without a key."""


class ShelfReader:
    """Reads for the shelf's screen, in threads, and sends it what was found as messages."""

    class Recorded(Message):
        """The log was read, before the files were."""

        def __init__(
            self, records: "Mapping[str, ExerciseRecord]", asked: "Mapping[str, tuple[Standing, ...]]"
        ) -> None:
            super().__init__()
            self.records, self.asked = records, asked

    class FilesListed(Message):
        """The folders were looked through."""

        def __init__(
            self,
            heads: "Sequence[Head]",
            records: "Mapping[str, ExerciseRecord]",
            asked: "Mapping[str, tuple[Standing, ...]]",
            seconds: float,
        ) -> None:
            """Tell of it.

            Args:
                heads: of all exercise files.
                records: what the log says, by exercise id.
                asked: what a teacher asks for, by exercise id.
                seconds: how long looking took.
            """
            super().__init__()
            self.heads, self.records, self.asked, self.seconds = heads, records, asked, seconds

    class Checked(Message):
        """A file in view was read whole."""

        def __init__(self, file: str, reading: WholeReading) -> None:
            super().__init__()
            self.file, self.reading = file, reading

    class LinesRead(Message):
        """What the log says of an exercise's lines."""

        def __init__(self, exercise: str, lines: "tuple[LineRecord, ...]") -> None:
            super().__init__()
            self.exercise, self.lines = exercise, lines

    def __init__(self, screen: "Screen[None]", machine: "Machine") -> None:
        """Read nothing yet.

        Args:
            screen: runs the threads and gets the messages.
            machine: what the screens work with.
        """
        self._screen, self._machine = screen, machine

    def scan(self, *, records_first: bool) -> None:
        """Look through the log and the folders.

        Args:
            records_first: whether to send the records before the folders are looked through.
        """
        self._screen.run_worker(partial(self._scan, records_first), thread=True, exclusive=True, group="files")

    def look_into(self, unread: "Sequence[Head]", exercise: str) -> None:
        """Read some files whole, and the lines of an exercise (none for an empty id)."""
        job = partial(self._look_into, tuple(unread), exercise)
        self._screen.run_worker(job, thread=True, exclusive=True, group="looking")

    def _scan(self, records_first: bool) -> None:
        from trainer.practice import assigned, reading

        worker = get_current_worker()
        log = self._machine.log
        records, asked = log.ask(reading.exercises), assigned.by_exercise(log.ask(assigned.standings))
        if records_first:
            self._screen.post_message(self.Recorded(records, asked))
        begun = time.perf_counter()
        heads = tuple(self._machine.exercises.heads())
        if not worker.is_cancelled:
            self._screen.post_message(self.FilesListed(heads, records, asked, time.perf_counter() - begun))

    def _look_into(self, unread: "Sequence[Head]", exercise: str) -> None:
        from trainer.practice import reading

        worker = get_current_worker()
        if exercise:
            lines = self._machine.log.ask(reading.lines, exercise)
            self._screen.post_message(self.LinesRead(exercise, lines))
        for head in unread:
            if worker.is_cancelled:
                return
            self._screen.post_message(self.Checked(head.file, _read_whole(self._machine.exercises, head)))


def _read_whole(exercises: "Exercises", head: "Head") -> WholeReading:
    from trainer.music.problem import ProblemsError

    try:
        exercises.read(Path(head.file))
    except ProblemsError as error:
        return WholeReading(head, str(error.problems[0]))
    return WholeReading(head, "")
