"""What stands on the shelf, what is wanted of it, and in which order: values and pure functions."""

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from trainer.notation.titles import by_title, folded

if TYPE_CHECKING:
    from trainer.notation.head import Head
    from trainer.practice.reading import ExerciseRecord


class Entry(NamedTuple):
    """One exercise file on the shelf."""

    head: "Head"
    record: "ExerciseRecord | None"
    """What the log says of it; None when it was never practised."""
    wrong: str = ""
    """What is wrong with the file; empty for one that is sound as far as it was looked into."""


class Band(NamedTuple):
    """Target tempos from `low` up to, and without, `high` bpm."""

    low: float
    high: float

    @property
    def title(self) -> str:
        """As the player says it."""
        if not self.low:
            return f"under {self.high:g} bpm"
        return f"{self.low:g} bpm and over" if self.high > 1000 else f"{self.low:g} to {self.high - 1:g} bpm"


BANDS = (Band(0, 100), Band(100, 130), Band(130, 160), Band(160, 190), Band(190, 10_000))
"""House rule: about a fifth of a tempo each."""


class Order(StrEnum):
    """What the exercises are ordered by; the values are the headings of the columns."""

    TITLE = "title"
    KEY = "key"
    TARGET = "target"
    BEST = "best"
    LAST = "last"
    DUE = "due"


class Wanted(NamedTuple):
    """What the player looks for."""

    words: str = ""
    """Every word of it is found in title, id, author, tags, key or a riff's name."""
    tag: str = ""
    key: str = ""
    band: Band | None = None
    due: bool = False
    """Just what is due today."""
    order: Order = Order.TITLE

    @property
    def everything(self) -> bool:
        """Whether nothing is left out."""
        return not (self.words.strip() or self.tag or self.key or self.band or self.due)

    @property
    def asks_the_log(self) -> bool:
        """Whether the log must be read before anything can be shown."""
        return self.due or self.order in (Order.BEST, Order.LAST, Order.DUE)

    def as_dict(self) -> dict[str, Any]:
        """For the memory, as plain values; what is not looked for is left out."""
        told = {"words": self.words, "tag": self.tag, "key": self.key, "due": self.due, "order": self.order.value}
        if self.band:
            told["band"] = self.band.title
        return {name: value for name, value in told.items() if value and value != Order.TITLE.value}

    @classmethod
    def from_dict(cls, told: object) -> "Wanted":
        """The inverse of `as_dict`; everything is wanted where that makes no sense, as in a later version's memory."""
        if not isinstance(told, dict):
            return cls()
        texts = {name: str(told.get(name, "")) for name in ("words", "tag", "key")}
        band = next((band for band in BANDS if band.title == told.get("band")), None)
        order = told.get("order")
        return cls(
            **texts, band=band, due=told.get("due") is True, order=Order(order) if order in list(Order) else Order.TITLE
        )


def entries(
    heads: "Iterable[Head]", records: "Mapping[str, ExerciseRecord]", wrong: Mapping[str, str] | None = None
) -> tuple[Entry, ...]:
    """The shelf.

    Args:
        heads: of all files.
        records: by exercise id.
        wrong: by file, what a full reading found beyond its head.
    """
    more = wrong or {}
    return tuple(Entry(head, records.get(head.id), head.problem or more.get(head.file, "")) for head in heads)


def words_of(head: "Head") -> str:
    """Everything that can be found of a file, folded."""
    return folded("\n".join((head.title, head.id, head.by, head.key, *head.tags, *head.riffs)))


class Words:
    """The folded words of every file, computed once each."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[Head, str]] = {}

    def of(self, head: "Head") -> str:
        """The words of one file."""
        found = self._known.get(head.file)
        if found is None or found[0] is not head:
            found = self._known[head.file] = (head, words_of(head))
        return found[1]


def ordered(shelf: Iterable[Entry], order: Order) -> tuple[Entry, ...]:
    """The shelf in an order; what the order does not tell apart is ordered by title and file."""
    return tuple(sorted(shelf, key=_ORDERS[order]))


def matching(
    shelf: Iterable[Entry], wanted: Wanted, today: int, words: "Callable[[Head], str]" = words_of
) -> tuple[Entry, ...]:
    """What is wanted of the shelf, in the shelf's order.

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
        found = [entry for entry in found if word in words(entry.head)]
    return tuple(found)


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


_ORDERS: dict[Order, Callable[[Entry], tuple[object, ...]]] = {
    Order.TITLE: _title,
    Order.KEY: lambda entry: (entry.head.key or "~", *_title(entry)),
    Order.TARGET: lambda entry: (entry.head.target_bpm, *_title(entry)),
    Order.BEST: _best,
    Order.LAST: _last,
    Order.DUE: _due,
}


def share_of_target(entry: Entry) -> float:
    """The best clean tempo as a share of the target; 0 where there is none."""
    best = entry.record.best_bpm if entry.record else 0.0
    return best / entry.head.target_bpm if entry.head.target_bpm else 0.0


def tags(shelf: Iterable[Entry]) -> tuple[tuple[str, int], ...]:
    """Every tag with how many files have it, the most frequent first."""
    counts: dict[str, int] = {}
    for entry in shelf:
        for tag in dict.fromkeys(entry.head.tags):
            counts[tag] = counts.get(tag, 0) + 1
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def keys(shelf: Iterable[Entry]) -> tuple[tuple[str, int], ...]:
    """Every key with how many files are in it, by name."""
    counts: dict[str, int] = {}
    for entry in shelf:
        if entry.head.key:
            counts[entry.head.key] = counts.get(entry.head.key, 0) + 1
    return tuple(sorted(counts.items()))


def twin_files(shelf: Iterable[Entry]) -> dict[str, str]:
    """For each file whose id an earlier file has already: that earlier file. It cannot be opened by its id."""
    first: dict[str, str] = {}
    hidden: dict[str, str] = {}
    for entry in shelf:
        before = first.setdefault(entry.head.id, entry.head.file)
        if before != entry.head.file:
            hidden[entry.head.file] = before
    return hidden
