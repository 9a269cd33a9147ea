"""The ways in which a part can be played, one after the other: as it is written with fingers, then elsewhere."""

from dataclasses import dataclass
from functools import lru_cache

from trainer.arranging.demand_words import trouble_sentences
from trainer.arranging.fingered import Fingered, finger, fingerings
from trainer.arranging.strokes import with_strokes
from trainer.music.part import TabPart
from trainer.music.riff import Riff

MOST = 6
"""Ways beside the one that keeps what is written."""


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way, with strings, frets, fingers and strokes."""

    number: int
    """From 1; 1 keeps the strings and frets that are written."""
    part: TabPart
    where: str
    """The strings and frets it needs, in words."""
    troubles: tuple[str, ...]
    """What no hand can do in it, in sentences."""


def fingering_at(part: TabPart, riff: Riff, number: int) -> tuple[Fingering | None, int | None]:
    """One of the ways, and how many there are.

    Args:
        part: the part as the file has it.
        riff: the riff it belongs to.
        number: 0 for the file's own; from 1 the ways; -1 the last one. It goes round.

    Returns:
        The way, None for the file's own; and the count of ways, None while only the first one has been worked out.

    Raises:
        ProblemsError: a note lies nowhere on the neck.
    """
    if number == 0:
        return None, None
    if number == 1:
        return kept_way(part, riff), None
    ways = (kept_way(part, riff), *other_ways(part, riff))
    at = number % (len(ways) + 1)
    return (ways[at - 1] if at else None), len(ways)


@lru_cache(maxsize=64)
def kept_way(part: TabPart, riff: Riff) -> Fingering:
    """The way that keeps what is written."""
    return _fingering(1, finger(part, riff), riff)


@lru_cache(maxsize=64)
def other_ways(part: TabPart, riff: Riff) -> tuple[Fingering, ...]:
    """The ways that do not, the easiest first."""
    known = {_places(kept_way(part, riff).part)}
    found: list[Fingering] = []
    for way in fingerings(part, riff, MOST, anew=True):
        if _places(way.part) not in known:
            known.add(_places(way.part))
            found.append(_fingering(len(found) + 2, way, riff))
    return tuple(found)


def _fingering(number: int, way: Fingered, riff: Riff) -> Fingering:
    return Fingering(number, with_strokes(way.part, riff), where_words(way.part), trouble_sentences(way.troubles, riff))


def where_words(part: TabPart) -> str:
    """The frets and strings of a part: "frets 5 to 9 on strings 2 to 4"."""
    notes = [note for bar in part.bars for moment in bar for note in moment.notes]
    if not notes:
        return "nothing to fret"
    frets, strings = [note.fret for note in notes if note.fret], [note.string for note in notes]
    fretted = "open strings only" if not frets else f"fret{_span(frets)}"
    return f"{fretted} on string{_span(strings)}"


def _span(numbers: list[int]) -> str:
    low, high = min(numbers), max(numbers)
    return f" {low}" if low == high else f"s {low} to {high}"


def _places(part: TabPart) -> tuple[tuple[int, int, str], ...]:
    return tuple((note.string, note.fret, note.finger) for bar in part.bars for moment in bar for note in moment.notes)
