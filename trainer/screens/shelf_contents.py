"""What stands on the shelf, and what of it is listed: first from the index, then from the files and the log."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from trainer.screens.shelf_entries import (
    Entry,
    Order,
    Wanted,
    Words,
    entries,
    is_due,
    matching,
    ordered,
    twin_files,
)

if TYPE_CHECKING:
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.practice.reading import ExerciseRecord
    from trainer.screens.shelf_files import Looked


class Contents:
    """The shelf's exercises. Everything here is computed at once from what was read elsewhere."""

    def __init__(self, wanted: Wanted) -> None:
        """Nothing is known yet.

        Args:
            wanted: what the player looks for.
        """
        self.wanted = wanted
        self.listed = False
        """Whether there is anything to show: the files were looked through, or the index was good enough."""
        self.looked_through = False
        """Whether the files themselves were looked through."""
        self.all: tuple[Entry, ...] = ()
        """Every exercise that is known."""
        self.shown: tuple[Entry, ...] = ()
        """Those that are wanted, in the order that is wanted."""
        self.before = 0
        """Exercises before the first one shown, of which nothing is known yet."""
        self.count = 0
        """Exercises there are."""
        self.hidden: dict[str, str] = {}
        """For each file whose id an earlier one has: that one."""
        self._heads: tuple[Head, ...] = ()
        self._records: Mapping[str, ExerciseRecord] | None = None
        self._looked: dict[str, Looked] = {}
        self._ordered: tuple[Entry, ...] = ()
        self._words = Words()

    @property
    def recorded(self) -> bool:
        """Whether the log was read: until then nobody knows what was practised."""
        return self._records is not None

    def glimpse(self, seen: "Glimpse", today: int) -> None:
        """Show what the index remembers, until the files are looked through.

        Args:
            seen: some exercises; all of them where something is looked for.
            today: the day of practice, as `date.toordinal`.
        """
        wanted = self.wanted
        if seen.whole or (wanted.everything and wanted.order is Order.TITLE):
            self._heads, self.before, self.count = seen.heads, seen.before, seen.total
            self._arrange(today)

    def record(self, records: "Mapping[str, ExerciseRecord]", today: int) -> bool:
        """Tell what the log says of every exercise, by id; returns whether that changed anything."""
        if records == self._records:
            return False
        self._records = records
        if self._heads:
            self._arrange(today)
        return bool(self._heads)

    def take(self, heads: "Sequence[Head]", records: "Mapping[str, ExerciseRecord]", today: int) -> bool:
        """Take what the files and the log say now; returns whether that changed anything."""
        anew = self.looked_through is False or self.before or self.count != len(heads)
        if not anew and tuple(heads) == self._heads and records == self._records:
            return False
        self._heads, self._records = tuple(heads), records
        self.before, self.count, self.looked_through = 0, len(heads), True
        self._arrange(today)
        return True

    def look(self, found: "Mapping[str, Looked]", today: int) -> bool:
        """Tell what full readings of files found; returns whether any is wrong."""
        self._looked |= found
        wrong = any(looked.wrong for looked in found.values())
        if wrong:
            self._arrange(today)
        return wrong

    def look_again(self) -> None:
        """Forget what full readings found."""
        self._looked.clear()

    def is_looked(self, head: "Head") -> bool:
        """Whether a file was read whole as it is now."""
        found = self._looked.get(head.file)
        return found is not None and found.head is head

    def want(self, wanted: Wanted, today: int) -> None:
        """Look for something else."""
        anew = wanted.order is not self.wanted.order
        self.wanted = wanted
        if anew:
            self._ordered = ordered(self.all, wanted.order)
        self._list(today)

    def place_of(self, file: str) -> int:
        """Where a file is among those shown; 0 where it is not."""
        return next((number for number, entry in enumerate(self.shown) if entry.head.file == file), 0)

    def due(self, today: int) -> int:
        """How many exercises are due."""
        return sum(is_due(entry.record, today) for entry in self.all)

    def _arrange(self, today: int) -> None:
        """Everything anew: other files, other records."""
        wrong = {file: looked.wrong for file, looked in self._looked.items() if looked.wrong}
        current = {head.file: head for head in self._heads} if wrong else {}
        wrong = {file: text for file, text in wrong.items() if current.get(file) is self._looked[file].head}
        self.all = entries(self._heads, self._records or {}, wrong)
        self.hidden = twin_files(self.all)
        self._ordered = ordered(self.all, self.wanted.order)
        self._list(today)

    def _list(self, today: int) -> None:
        if self._records is None and self.wanted.asks_the_log:
            return
        self.shown = matching(self._ordered, self.wanted, today, self._words.of)
        self.listed = True
