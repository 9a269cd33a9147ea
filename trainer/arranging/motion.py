"""How two parts move against each other: motion, crossing, clashes, and their intervals in a few words."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from itertools import groupby, pairwise

from trainer.arranging.clash import Sounding, clashes
from trainer.arranging.interval_line import Shared
from trainer.arranging.scale import spell
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.riff import Riff


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
    """Every place where a note of either part starts and grates with what the other sounds, by `clash.clashes`."""
    first, second = Sounding.of(one, riff), Sounding.of(other, riff)
    found = []
    bars = [*enumerate(zip(riff.bar_starts, riff.bar_starts[1:], strict=False), 1)]
    for bar, (begin, end) in bars:
        places = sorted({at for part in (first, second) for at in part.starts if begin <= at < end})
        for at in places:
            mine, theirs = [n.midi for n in first.at(at)], [n.midi for n in second.at(at)]
            pair = next(
                (
                    (a, b)
                    for a in mine
                    for b in theirs
                    if clashes(a % 12, frozenset({b % 12})) and clashes(a % 12, frozenset(x % 12 for x in theirs))
                ),
                None,
            )
            if pair:
                found.append(Clash(bar, at - begin, spell(riff.key, pair[0]), spell(riff.key, pair[1])))
    return tuple(found)


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
