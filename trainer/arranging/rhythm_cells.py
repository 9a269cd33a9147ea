"""A part's rhythm told in cells: what each beat's onsets make, and how two rhythms lock.

A cell is the pattern of a beat's onsets, as parts of the beat (the meter's pulse: a dotted quarter in 12/8). A beat is
*syncopated* when its off-beats are struck and its start is not: the note before is held over it, or it is silent.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.meter import Meter
from trainer.music.part import DrumPart, TabPart
from trainer.music.riff import Riff


def _parts(text: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(part) for part in text.split())


SIMPLE = {
    _parts("0 1/2 3/4"): "gallop",
    _parts("0 1/4 1/2"): "reverse gallop",
    _parts("0 2/3 5/6"): "triplet gallop",
    _parts("0 1/6 1/3"): "reverse triplet gallop",
    _parts("0 1/3 2/3"): "triplets",
    _parts("0 1/6 1/3 1/2 2/3 5/6"): "sextuplets",
    _parts("0 2/3"): "shuffle",
    _parts("0"): "straight",
    _parts("0 1/2"): "straight",
    _parts("0 1/4 1/2 3/4"): "straight",
    _parts("0 1/8 1/4 3/8 1/2 5/8 3/4 7/8"): "straight",
    _parts("0 3/4"): "dotted",
    _parts("0 1/4"): "dotted",
}
"""Cells of beats that divide by two."""
COMPOUND = {
    _parts("0 2/3 5/6"): "triplet gallop",
    _parts("0 1/6 1/3"): "reverse triplet gallop",
    _parts("0 2/3"): "shuffle",
    _parts("0"): "straight",
    _parts("0 1/3 2/3"): "straight",
    _parts("0 1/6 1/3 1/2 2/3 5/6"): "straight",
}
"""Cells of beats that divide by three."""
SYNCOPATION = "syncopation"
OTHER = "other"


@dataclass(frozen=True, slots=True)
class Cell:
    """What one beat's onsets make."""

    bar: int
    """From 1."""
    beat: int
    """From 1."""
    name: str
    """A value of `SIMPLE` or `COMPOUND`, `SYNCOPATION` or `OTHER`."""


@dataclass(frozen=True, slots=True)
class Rhythm:
    """A part's rhythm."""

    cells: tuple[Cell, ...]
    """Beats in which notes start, in order."""
    shares: tuple[tuple[str, float], ...]
    """Each cell's share of those beats, the commonest first."""

    @property
    def main(self) -> str:
        """The commonest cell; empty for a part without notes."""
        return self.shares[0][0] if self.shares else ""


def rhythm(part: TabPart, riff: Riff) -> Rhythm:
    """The cells of a part."""
    cells = [
        Cell(number, beat + 1, cell_name(places, meter))
        for number, (bar, meter) in enumerate(zip(part.bars, riff.meters, strict=False), 1)
        for beat, places in sorted(_beats([moment.offset for moment in bar if moment.notes], meter).items())
    ]
    counts = Counter(cell.name for cell in cells).most_common()
    return Rhythm(tuple(cells), tuple((name, count / len(cells)) for name, count in counts))


def cell_name(places: Sequence[Fraction], meter: Meter) -> str:
    """The cell that some onsets make, given as parts of their beat."""
    if places[0] != 0:
        return SYNCOPATION
    return (COMPOUND if meter.compound else SIMPLE).get(tuple(places), OTHER)


LETTERS = {
    "gallop": "G",
    "reverse gallop": "R",
    "triplet gallop": "T",
    "reverse triplet gallop": "V",
    "triplets": "t",
    "sextuplets": "x",
    "shuffle": "h",
    "dotted": "d",
    SYNCOPATION: "o",
    OTHER: "?",
}
"""A letter for each cell but the straight ones."""
STRAIGHT_LETTERS = {1: "q", 2: "e", 3: "e", 4: "s", 6: "s", 8: "z"}
"""For straight cells a letter by their number of notes: quarters, eighths, sixteenths, thirty-seconds."""
LETTER_WORDS = {
    "G": "gallop",
    "R": "reverse gallop",
    "T": "triplet gallop",
    "V": "reverse triplet gallop",
    "t": "triplets",
    "x": "sextuplets",
    "h": "shuffle",
    "d": "dotted",
    "q": "one note on the beat",
    "e": "eighths",
    "s": "sixteenths",
    "z": "thirty-seconds",
    "o": "off the beat",
    "?": "other",
    "-": "nothing starts",
}
"""What each letter stands for."""


def rhythm_letters(part: TabPart, riff: Riff) -> tuple[str, ...]:
    """A part's rhythm in letters: for each bar one letter a beat."""
    rows = []
    for bar, meter in zip(part.bars, riff.meters, strict=False):
        beats = _beats([moment.offset for moment in bar if moment.notes], meter)
        rows.append("".join(_letter(beats.get(beat), meter) for beat in range(-(-meter.length // meter.pulse))))
    return tuple(rows)


def _letter(places: Sequence[Fraction] | None, meter: Meter) -> str:
    if places is None:
        return "-"
    name = cell_name(places, meter)
    return STRAIGHT_LETTERS[len(places)] if name == "straight" else LETTERS[name]


def _beats(offsets: Sequence[Fraction], meter: Meter) -> dict[int, list[Fraction]]:
    """Onsets by beat (from 0), as parts of the beat."""
    beats: dict[int, list[Fraction]] = {}
    for offset in offsets:
        beat = int(offset / meter.pulse)
        beats.setdefault(beat, []).append(offset / meter.pulse - beat)
    return beats


@dataclass(frozen=True, slots=True)
class Accents:
    """Where a part's accents stand in the meter."""

    count: int
    on_first: int
    """On the first count of a bar."""
    on_beats: int
    """On other beats."""
    off_beats: int
    every: Fraction | None
    """Whole notes from each accent to the next where that never changes and four or more accents show it."""
    against: bool
    """Whether `every` does not divide the bars, so that the accents wander through the meter."""


def accents(part: TabPart, riff: Riff) -> Accents:
    """The accents of a part."""
    first = beats = off = 0
    places = []
    for bar, meter, start in zip(part.bars, riff.meters, riff.bar_starts, strict=False):
        for moment in bar:
            if not moment.accent or not moment.notes:
                continue
            places.append(start + moment.offset)
            if moment.offset == 0:
                first += 1
            elif moment.offset % meter.pulse == 0:
                beats += 1
            else:
                off += 1
    gaps = {after - before for before, after in pairwise(places)}
    every = next(iter(gaps)) if len(gaps) == 1 and len(places) >= 4 else None
    against = every is not None and any(
        meter.length % every != 0 and every % meter.length != 0 for meter in riff.meters
    )
    return Accents(len(places), first, beats, off, every, against)


@dataclass(frozen=True, slots=True)
class Lock:
    """How two parts' onsets fall together."""

    together: int
    """Onsets of both."""
    only_one: int
    """Onsets of the first part alone."""
    only_other: int

    @property
    def share(self) -> float:
        """Onsets of both, of all places at which either starts a note; 0 without any."""
        return self.together / ((self.together + self.only_one + self.only_other) or 1)


def lock(one: TabPart, other: TabPart) -> Lock:
    """How the onsets of two parts of a riff fall together."""
    first, second = _onsets(one), _onsets(other)
    return Lock(len(first & second), len(first - second), len(second - first))


def kick_lock(part: TabPart, drums: DrumPart) -> Lock:
    """How a part's onsets and the kick's fall together; the kick is the second."""
    kicks = {
        (number, moment.offset)
        for number, bar in enumerate(drums.bars)
        for moment in bar
        if any(hit.piece == "kick" for hit in moment.hits)
    }
    mine = _onsets(part)
    return Lock(len(mine & kicks), len(mine - kicks), len(kicks - mine))


def _onsets(part: TabPart) -> set[tuple[int, Fraction]]:
    return {(number, moment.offset) for number, bar in enumerate(part.bars) for moment in bar if moment.notes}
