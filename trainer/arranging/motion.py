"""How two parts move against each other: motion, crossing, clashes, and their intervals in a few words."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from itertools import groupby, pairwise

from trainer.arranging.clash import PartNotes, clashes
from trainer.arranging.interval_line import Shared
from trainer.arranging.scale import spell
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote


class Motion(Enum):
    """What two parts do from one shared onset to the next."""

    PARALLEL = "parallel"
    """Both move the same way and keep the interval's number."""
    SIMILAR = "similar"
    """Both move the same way and the number changes."""
    CONTRARY = "contrary"
    """They move in opposite directions."""
    OBLIQUE = "oblique"
    """One moves, the other stays."""
    STILL = "still"
    """Both stay."""


def motion(before: Shared, after: Shared) -> Motion:
    """The motion between two shared onsets."""
    one, other = after.one.midi - before.one.midi, after.other.midi - before.other.midi
    if not one and not other:
        return Motion.STILL
    if not one or not other:
        return Motion.OBLIQUE
    if (one > 0) != (other > 0):
        return Motion.CONTRARY
    return Motion.PARALLEL if before.interval.steps == after.interval.steps else Motion.SIMILAR


def motions(line: Sequence[Shared]) -> tuple[Motion, ...]:
    """The motion between each shared onset and the next."""
    return tuple(motion(before, after) for before, after in pairwise(line))


def crossed(line: Sequence[Shared]) -> tuple[Shared, ...]:
    """Shared onsets at which the part that is mostly the higher one lies below the other."""
    above = sum(shared.other.midi > shared.one.midi for shared in line)
    below = sum(shared.other.midi < shared.one.midi for shared in line)
    if not above or not below:
        return ()
    return tuple(shared for shared in line if shared.one != shared.other and shared.above != (above >= below))


@dataclass(frozen=True, slots=True)
class Clash:
    """A place at which notes of two parts sound a semitone apart, in any octave."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    one: Pitch
    other: Pitch


def part_clashes(one: TabPart, other: TabPart, riff: Riff) -> tuple[Clash, ...]:
    """Every place where notes of two parts begin to grate, by `clash.clashes`; while both last they are told once."""
    first, second = PartNotes.of(one, riff), PartNotes.of(other, riff)
    found = []
    before: tuple[SoundingNote, SoundingNote] | None = None
    for bar, (begin, end) in enumerate(pairwise(riff.bar_starts), 1):
        for at in sorted({at for part in (first, second) for at in part.within(begin, end)}):
            pair = _grating(first.at(at), second.at(at))
            if pair and pair != before:
                found.append(Clash(bar, at - begin, spell(riff.key, pair[0].midi), spell(riff.key, pair[1].midi)))
            before = pair
    return tuple(found)


def _grating(mine: Sequence[SoundingNote], theirs: Sequence[SoundingNote]) -> tuple[SoundingNote, SoundingNote] | None:
    """The first two notes that grate, of those that sound at a place."""
    around = frozenset(note.midi % 12 for note in theirs)
    for note in mine:
        if clashes(note.midi % 12, around):
            against = next(b for b in theirs if (note.midi - b.midi) % 12 in (1, 11))
            return note, against
    return None


@dataclass(frozen=True, slots=True)
class IntervalRun:
    """Shared onsets in a row with one interval number."""

    number: int
    first: int
    """The index of its first onset."""
    count: int


@dataclass(frozen=True, slots=True)
class IntervalSummary:
    """The intervals two parts move in."""

    main: int
    """The commonest number; the earliest where several are."""
    share: float
    """Its share of the shared onsets."""
    counts: tuple[tuple[int, int], ...]
    """Every number with how often it occurs, the commonest first."""
    exceptions: tuple[IntervalRun, ...]
    """Runs of other numbers."""
    onsets: int


def summarise(line: Sequence[Shared]) -> IntervalSummary | None:
    """The summary of an interval line; None where two parts never start a note together."""
    if not line:
        return None
    numbers = [shared.number for shared in line]
    counts = Counter(numbers).most_common()  # ties stay in order of appearance
    main, often = counts[0]
    runs, index = [], 0
    for number, group in groupby(numbers):
        length = len(list(group))
        if number != main:
            runs.append(IntervalRun(number, index, length))
        index += length
    return IntervalSummary(main, often / len(line), tuple(counts), tuple(runs), len(line))
