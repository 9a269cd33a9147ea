"""What is on the shelf, and which of it is listed: exercises with their records, searches and orders."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import StrEnum
from operator import is_ as is_same
from typing import TYPE_CHECKING, Any, NamedTuple

from trainer.notation.titles import by_title, folded

if TYPE_CHECKING:
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.practice.assigned import Standing
    from trainer.practice.reading import ExerciseRecord


class Entry(NamedTuple):
    """One exercise file with its record."""

    head: "Head"
    record: "ExerciseRecord | None"
    """What the log says about it; None if it was never practised."""
    wrong: str = ""
    """What is wrong with the file; empty if nothing was found so far."""
    asked: "tuple[Standing, ...]" = ()
    """What a teacher asks for in it."""

    @property
    def to_do(self) -> "tuple[Standing, ...]":
        """What a teacher asks for that is not done yet: such exercises come first."""
        return tuple(each for each in self.asked if each.done is None)


class Band(NamedTuple):
    """Target tempos from `low` up to, and without, `high` bpm."""

    low: float
    high: float

    @property
    def title(self) -> str:
        """The range in words."""
        if not self.low:
            return f"under {self.high:g} bpm"
        return f"{self.low:g} bpm and over" if self.high > 1000 else f"{self.low:g} to {self.high - 1:g} bpm"


BANDS = (Band(0, 100), Band(100, 130), Band(130, 160), Band(160, 190), Band(190, 10_000))
"""House rule: about a fifth of a tempo each."""


class ShelfOrder(StrEnum):
    """What exercises can be ordered by; the values are the column headings."""

    TITLE = "title"
    KEY = "key"
    TARGET = "target"
    BEST = "best"
    LAST = "last"
    DUE = "due"


class ShelfSearch(NamedTuple):
    """What the player searches for, and in which order it is listed."""

    words: str = ""
    """Words, every one of which must be found in the title, id, author, tags, key or a riff's name."""
    tag: str = ""
    key: str = ""
    band: Band | None = None
    due: bool = False
    """Whether only what is due today is listed."""
    order: ShelfOrder = ShelfOrder.TITLE

    @property
    def everything(self) -> bool:
        """Whether nothing is left out."""
        return not (self.words.strip() or self.tag or self.key or self.band or self.due)

    @property
    def asks_the_log(self) -> bool:
        """Whether the log must be read before anything can be shown."""
        return self.due or self.order in (ShelfOrder.BEST, ShelfOrder.LAST, ShelfOrder.DUE)

    def as_dict(self) -> dict[str, Any]:
        """Plain values for the session memory; defaults are left out."""
        told = {"words": self.words, "tag": self.tag, "key": self.key, "due": self.due, "order": self.order.value}
        if self.band:
            told["band"] = self.band.title
        return {name: value for name, value in told.items() if value and value != ShelfOrder.TITLE.value}

    @classmethod
    def from_dict(cls, told: object) -> "ShelfSearch":
        """Read what `as_dict` gave; values that make no sense, as from a later version, give the default search."""
        if not isinstance(told, dict):
            return cls()
        texts = {name: str(told.get(name, "")) for name in ("words", "tag", "key")}
        band = next((band for band in BANDS if band.title == told.get("band")), None)
        order = told.get("order")
        return cls(
            **texts,
            band=band,
            due=told.get("due") is True,
            order=ShelfOrder(order) if order in list(ShelfOrder) else ShelfOrder.TITLE,
        )


def entries(
    heads: "Iterable[Head]",
    records: "Mapping[str, ExerciseRecord]",
    wrong: Mapping[str, str] | None = None,
    asked: "Mapping[str, tuple[Standing, ...]] | None" = None,
) -> tuple[Entry, ...]:
    """The shelf.

    Args:
        heads: of all files.
        records: by exercise id.
        wrong: by file, what a full reading found beyond its head.
        asked: by exercise id, what a teacher asks for.
    """
    more, tasks = wrong or {}, asked or {}
    return tuple(
        Entry(head, records.get(head.id), head.problem or more.get(head.file, ""), tasks.get(head.id, ()))
        for head in heads
    )


TEACHER = "from my teacher"
"""The group of exercises in which a teacher asks for something; typing it, or some of it, finds them."""


def words_of(head: "Head") -> str:
    """All text of a file that a search looks through, folded."""
    return folded("\n".join((head.title, head.id, head.by, head.key, *head.tags, *head.riffs)))


class Words:
    """The folded text of every file, each computed once."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[Head, str]] = {}

    def of(self, head: "Head") -> str:
        """The folded text of one file."""
        found = self._known.get(head.file)
        if found is None or found[0] is not head:
            found = self._known[head.file] = (head, words_of(head))
        return found[1]


def ordered(shelf: Iterable[Entry], order: ShelfOrder) -> tuple[Entry, ...]:
    """Sort the shelf: what a teacher asks for first; entries that are equal in the order by title and file."""
    key = _ORDERS[order]
    return tuple(sorted(shelf, key=lambda entry: (not entry.to_do, key(entry))))


def matching(
    shelf: Iterable[Entry], wanted: ShelfSearch, today: int, words: "Callable[[Head], str]" = words_of
) -> tuple[Entry, ...]:
    """Filter the shelf by a search, keeping its order.

    Args:
        shelf: everything.
        wanted: what is looked for.
        today: the day of practice, as `date.toordinal`.
        words: gives the words of a file.
    """
    found = shelf
    if wanted.tag:
        found = [entry for entry in found if wanted.tag in entry.head.tags]
    if wanted.key:
        found = [entry for entry in found if entry.head.key == wanted.key]
    if wanted.band:
        low, high = wanted.band
        found = [entry for entry in found if low <= entry.head.target_bpm < high]
    if wanted.due:
        found = [entry for entry in found if is_due(entry.record, today)]
    for word in folded(wanted.words).split():
        found = [entry for entry in found if word in words(entry.head) or word in _teacher_words(entry)]
    return tuple(found)


def _teacher_words(entry: Entry) -> str:
    """What a search finds an exercise by that a teacher asks for."""
    return folded("\n".join((TEACHER, *(each.assignment.teacher for each in entry.to_do)))) if entry.to_do else ""


def is_due(record: "ExerciseRecord | None", today: int) -> bool:
    """Whether an exercise has a line that is due."""
    return record is not None and record.due_day is not None and record.due_day <= today


def _title(entry: Entry) -> tuple[str, str]:
    return by_title(entry.head)


def _last(entry: Entry) -> tuple[object, ...]:
    return (-entry.record.last_ms if entry.record else 0, *_title(entry))


def _due(entry: Entry) -> tuple[object, ...]:
    due = entry.record.due_day if entry.record else None
    return (due if due is not None else 10**7, *_title(entry))


def _best(entry: Entry) -> tuple[object, ...]:
    return (-share_of_target(entry), *_title(entry))


_ORDERS: dict[ShelfOrder, Callable[[Entry], tuple[object, ...]]] = {
    ShelfOrder.TITLE: _title,
    ShelfOrder.KEY: lambda entry: (entry.head.key or "~", *_title(entry)),
    ShelfOrder.TARGET: lambda entry: (entry.head.target_bpm, *_title(entry)),
    ShelfOrder.BEST: _best,
    ShelfOrder.LAST: _last,
    ShelfOrder.DUE: _due,
}


def share_of_target(entry: Entry) -> float:
    """The best clean tempo as a share of the target; 0 if there is none."""
    best = entry.record.best_bpm if entry.record else 0.0
    return best / entry.head.target_bpm if entry.head.target_bpm else 0.0


def tags(shelf: Iterable[Entry]) -> tuple[tuple[str, int], ...]:
    """Count the files with each tag, most frequent first."""
    counts: dict[str, int] = {}
    for entry in shelf:
        for tag in dict.fromkeys(entry.head.tags):
            counts[tag] = counts.get(tag, 0) + 1
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def keys(shelf: Iterable[Entry]) -> tuple[tuple[str, int], ...]:
    """Count the files in each key, by name."""
    counts: dict[str, int] = {}
    for entry in shelf:
        if entry.head.key:
            counts[entry.head.key] = counts.get(entry.head.key, 0) + 1
    return tuple(sorted(counts.items()))


def twin_files(shelf: Iterable[Entry]) -> dict[str, str]:
    """Map each file whose id an earlier file already has to that earlier file; it cannot be opened by its id."""
    first: dict[str, str] = {}
    hidden: dict[str, str] = {}
    for entry in shelf:
        before = first.setdefault(entry.head.id, entry.head.file)
        if before != entry.head.file:
            hidden[entry.head.file] = before
    return hidden


class WholeReading(NamedTuple):
    """What reading a file whole found."""

    head: "Head"
    """The file's head at the time: a file that has changed since has another one."""
    wrong: str
    """The first thing that is wrong; empty for a sound file."""


class ShelfContents:
    """The shelf's exercises and the search through them, computed from what `ShelfReader` reads."""

    def __init__(self, wanted: ShelfSearch) -> None:
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
        """Every known exercise."""
        self.shown: tuple[Entry, ...] = ()
        """The exercises that match the search, in its order."""
        self.before = 0
        """How many exercises come before the first one shown, while only some are known."""
        self.count = 0
        """How many exercises there are."""
        self.hidden: dict[str, str] = {}
        """For each file whose id an earlier file has: that earlier file."""
        self._heads: tuple[Head, ...] = ()
        self._records: Mapping[str, ExerciseRecord] | None = None
        self._asked: Mapping[str, tuple[Standing, ...]] = {}
        self._readings: dict[str, WholeReading] = {}
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
        if seen.whole or (wanted.everything and wanted.order is ShelfOrder.TITLE):
            self._heads, self.before, self.count = seen.heads, seen.before, seen.total
            self._arrange(today)

    def record(
        self, records: "Mapping[str, ExerciseRecord]", asked: "Mapping[str, tuple[Standing, ...]]", today: int
    ) -> bool:
        """Tell what the log says of every exercise, by id; returns whether that changed anything."""
        if (records, asked) == (self._records, self._asked):
            return False
        self._records, self._asked = records, asked
        if self._heads:
            self._arrange(today)
        return bool(self._heads)

    def take(
        self,
        heads: "Sequence[Head]",
        records: "Mapping[str, ExerciseRecord]",
        asked: "Mapping[str, tuple[Standing, ...]]",
        today: int,
    ) -> bool:
        """Take what the files and the log say now; returns whether that changed anything."""
        # A file that changed has another head even if that says the same: what was wrong in it may be mended.
        same = len(heads) == len(self._heads) and all(map(is_same, heads, self._heads))
        known = (records, asked) == (self._records, self._asked)
        if self.looked_through and not self.before and same and known:
            return False
        self._heads, self._records, self._asked = tuple(heads), records, asked
        self.before, self.count, self.looked_through = 0, len(heads), True
        self._arrange(today)
        return True

    def check(self, file: str, reading: WholeReading, today: int) -> bool:
        """Take what reading a file whole found; returns whether anything is wrong with it."""
        self._readings[file] = reading
        if reading.wrong:
            self._arrange(today)
        return bool(reading.wrong)

    def read_again(self) -> None:
        """Forget what reading files whole found."""
        self._readings.clear()

    def is_read(self, head: "Head") -> bool:
        """Whether a file was read whole since it last changed."""
        found = self._readings.get(head.file)
        return found is not None and found.head is head

    def search(self, wanted: ShelfSearch, today: int) -> None:
        """Search for something else."""
        anew = wanted.order is not self.wanted.order
        self.wanted = wanted
        if anew:
            self._ordered = ordered(self.all, wanted.order)
        self._list(today)

    def place_of(self, file: str) -> int:
        """Where a file is among those shown; 0 where it is not."""
        return next((number for number, entry in enumerate(self.shown) if entry.head.file == file), 0)

    @property
    def to_do(self) -> int:
        """How many exercises a teacher asks for something in that is not done."""
        return sum(bool(entry.to_do) for entry in self.all)

    def due(self, today: int) -> int:
        """How many exercises are due."""
        return sum(is_due(entry.record, today) for entry in self.all)

    def _arrange(self, today: int) -> None:
        """Everything anew: other files, other records."""
        wrong = {file: reading.wrong for file, reading in self._readings.items() if reading.wrong}
        current = {head.file: head for head in self._heads} if wrong else {}
        wrong = {file: text for file, text in wrong.items() if current.get(file) is self._readings[file].head}
        self.all = entries(self._heads, self._records or {}, wrong, self._asked)
        self.hidden = twin_files(self.all)
        self._ordered = ordered(self.all, self.wanted.order)
        self._list(today)

    def _list(self, today: int) -> None:
        if self._records is None and self.wanted.asks_the_log:
            return
        self.shown = matching(self._ordered, self.wanted, today, self._words.of)
        self.listed = True
