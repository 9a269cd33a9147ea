"""What the shelf reads in the background: the log, the folders, the files in view whole."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.timer import Timer
from textual.worker import get_current_worker

from trainer.practice.days import practice_day
from trainer.screens.shelf_entries import Entry
from trainer.screens.shelf_files import AGAIN_SECONDS, LOOK_SECONDS, Looked, checked, heads, records
from trainer.screens.shelf_finding import Finding
from trainer.screens.widgets.drawn_panel import DrawnPanel
from trainer.screens.widgets.row_list import RowList
from trainer.screens.wiring import Wiring

if TYPE_CHECKING:
    from trainer.notation.head import Head
    from trainer.practice.reading import ExerciseRecord, LineRecord


class ReadsShelf(Finding):
    """The shelf's screen, reading."""

    if TYPE_CHECKING:

        def show_wanted(self) -> None: ...  # noqa: D102 - the screen's

    class Recorded(Message):
        """The log was read, before the files were."""

        def __init__(self, records: "Mapping[str, ExerciseRecord]") -> None:
            super().__init__()
            self.records = records

    class Listed(Message):
        """The files were looked through in the background."""

        def __init__(self, heads: "Sequence[Head]", records: "Mapping[str, ExerciseRecord]", seconds: float) -> None:
            super().__init__()
            self.heads, self.records, self.seconds = heads, records, seconds

    class Checked(Message):
        """Files in view were read whole in the background."""

        def __init__(self, found: dict[str, Looked]) -> None:
            super().__init__()
            self.found = found

    class LinesRead(Message):
        """What the log says of an exercise's lines."""

        def __init__(self, exercise: str, lines: "tuple[LineRecord, ...]") -> None:
            super().__init__()
            self.exercise, self.lines = exercise, lines

    def __init__(self, wiring: Wiring) -> None:
        super().__init__(wiring)
        self._lines: tuple[str, tuple[LineRecord, ...]] = ("", ())
        self._look: Timer | None = None

    @property
    def today(self) -> date:
        """The day of practice it is."""
        return practice_day(self.wiring.now())

    @property
    def shown(self) -> tuple[Entry, ...]:
        """The exercises that are listed."""
        return self.contents.shown

    @property
    def chosen(self) -> Entry | None:
        """The exercise under the cursor."""
        at = self.query_one(RowList).cursor
        return self.shown[at] if 0 <= at < len(self.shown) else None

    @work(thread=True, exclusive=True, group="files")
    def scan(self) -> None:
        """Look through the log and the folders without holding up the screen."""
        worker = get_current_worker()
        recorded = records(self.wiring)
        if not self.contents.recorded:
            self.post_message(self.Recorded(recorded))
        found, seconds = heads(self.wiring)
        if not worker.is_cancelled:
            self.post_message(self.Listed(found, recorded, seconds))

    def on_reads_shelf_recorded(self, message: Recorded) -> None:
        """Show what was practised beside what the index remembers."""
        if self.contents.record(message.records, self.today.toordinal()):
            self.show_wanted()

    def on_reads_shelf_listed(self, message: Listed) -> None:
        """Show what changed, and look again after a while."""
        self.set_timer(max(AGAIN_SECONDS, 30 * message.seconds), self._scan_again)
        if self.contents.take(message.heads, message.records, self.today.toordinal()):
            self.show_wanted()
            self.look_soon()

    def _scan_again(self) -> None:
        if self.is_current:
            self.scan()

    def look_soon(self) -> None:
        """Read the files in view whole, once the player pauses."""
        if self._look is not None:
            self._look.stop()
        self._look = self.set_timer(LOOK_SECONDS, self._look_now)

    def _look_now(self) -> None:
        in_view = [self.shown[index].head for index in self.query_one(RowList).in_view if index < len(self.shown)]
        unread = [head for head in in_view if not head.problem and not self.contents.is_looked(head)]
        chosen = self.chosen
        self.look_into(tuple(unread), chosen.head.id if chosen else "")
        self.keep_wanted()

    @work(thread=True, exclusive=True, group="looking")
    def look_into(self, unread: "Sequence[Head]", exercise: str) -> None:
        """Read some files whole, and what the log says of an exercise."""
        from trainer.practice import reading

        worker = get_current_worker()
        if exercise:
            self.post_message(self.LinesRead(exercise, self.wiring.log.ask(reading.lines, exercise)))
        for head in unread:
            if worker.is_cancelled:
                return
            self.post_message(self.Checked({head.file: checked(self.wiring.exercises, head)}))

    def on_reads_shelf_checked(self, message: Checked) -> None:
        """Show what is wrong with a file."""
        if self.contents.look(message.found, self.today.toordinal()):
            self.show_wanted()

    def on_reads_shelf_lines_read(self, message: LinesRead) -> None:
        """Tell of the parts of the chosen exercise."""
        self._lines = (message.exercise, message.lines)
        self.query_one("#detail", DrawnPanel).redraw()
