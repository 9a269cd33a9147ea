"""The notes of one part of a score as the bars of a riff: counted, placed on strings, with rests and let ring.

The exercise file has no note lengths: a note sounds until the next note or rest of its part, or, under "let ring",
until its string is struck again or the marks end. What is written here is heard again by those rules, and every note
that sounds longer or shorter than the score says is told.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.exchange.countable import fitted, is_countable
from trainer.exchange.placing import place_notes
from trainer.exchange.score import ScoreNote
from trainer.exchange.stretch import PartStretch, Stretch
from trainer.music.instrument import Instrument
from trainer.music.note import KIT, DrumMoment, Force, Hit, Moment, Note
from trainer.music.part import DrumPart, TabPart
from trainer.music.sounding import sounding


@dataclass(slots=True)
class _Struck:
    """What starts together, with where it is counted."""

    at: Fraction
    notes: list[ScoreNote]
    ring: bool = False


def tab_part(
    where: PartStretch, notes: Sequence[ScoreNote], chords: Sequence[tuple[Fraction, str]], neck: Instrument
) -> TabPart:
    """A part on strings in one riff.

    Args:
        where: the part's name and the riff's bars.
        notes: its notes that begin in the riff, in order; places are the score's.
        chords: its chord names there.
        neck: what it is played on.
    """
    stretch = where.stretch
    length = stretch.starts[-1]
    moved = [replace(each, at=each.at - stretch.start, end=each.end - stretch.start) for each in notes]
    late = next((each for each in moved if each.end > length), None)
    if late is not None and not late.ring:
        where.tell(late.at, "a note that sounds into the next riff ends with its own riff")
    moved = [replace(each, end=min(each.end, length)) for each in moved]
    groups = _groups(moved)
    rests = _rests(groups, length)
    groups, rests, places = _counted(groups, rests, where)
    _let_ring(groups, length)
    kept = place_notes([(each.at, each.notes, each.ring) for each in groups], neck, where)
    bars: list[dict[Fraction, Moment]] = [{} for _ in stretch.meters]
    for group, held in zip(groups, kept, strict=True):
        if held:
            bar = stretch.bar_of(group.at)
            offset = group.at - stretch.starts[bar]
            bars[bar][offset] = _moment(offset, group, held)
    for rest in rests:
        bar = stretch.bar_of(rest)
        offset = rest - stretch.starts[bar]
        bars[bar].setdefault(offset, Moment(offset, rest=True))
    for at, chord in chords:
        _name_chord(at - stretch.start, chord, bars, stretch)
    part = TabPart(where.part, neck, tuple(tuple(bar[at] for at in sorted(bar)) for bar in bars))
    _compare(part, list(zip(groups, kept, strict=True)), places, where)
    return part


def _groups(notes: Sequence[ScoreNote]) -> list[_Struck]:
    groups: dict[Fraction, list[ScoreNote]] = defaultdict(list)
    for note in notes:
        groups[note.at].append(note)
    return [_Struck(at, groups[at]) for at in sorted(groups)]


def _rests(groups: Sequence[_Struck], length: Fraction) -> list[Fraction]:
    """Where everything has ended before something begins again, or before the riff ends."""
    rests = []
    end: Fraction | None = None
    for at, notes in [*((group.at, group.notes) for group in groups), (length, [])]:
        if end is not None and end < at:
            rests.append(end)
        end = max([note.end for note in notes], default=end) if end is None else max([end, *(n.end for n in notes)])
    return rests


def _counted(
    groups: list[_Struck], rests: list[Fraction], where: PartStretch
) -> tuple[list[_Struck], list[Fraction], dict[Fraction, Fraction]]:
    """Groups and rests where a count row can say them, and the places that were moved."""
    stretch = where.stretch
    bars: dict[int, set[Fraction]] = defaultdict(set)
    onsets = {group.at for group in groups}
    for place in (*onsets, *rests):
        bar = stretch.bar_of(place)
        bars[bar].add(place - stretch.starts[bar])
    places: dict[Fraction, Fraction] = {}
    for bar, offsets in bars.items():
        meter, start = stretch.meters[bar], stretch.starts[bar]
        if is_countable(frozenset(offsets), meter):
            continue
        played = frozenset(offset for offset in offsets if start + offset in onsets)
        found = {offset: offset for offset in played}
        if not is_countable(played, meter):
            found = dict(fitted(played, meter).places)
            away = [offset for offset, to in found.items() if to != offset]
            what = f"{len(away)} places that no count row can say are moved, by {_part_of_whole(found)} of a whole note"
            where.tell(start + min(away), what + " at most")
        for offset in offsets - played:  # a rest goes to the nearest count
            nearby = sorted({*found.values(), *(meter.count_length * n / 4 for n in range(meter.counts * 4))})
            allowed = [to for to in nearby if is_countable(frozenset({*found.values(), to} - {meter.length}), meter)]
            found[offset] = min(allowed, key=lambda to: abs(to - offset), default=meter.length)
        places |= {start + offset: start + to for offset, to in found.items() if to != offset}
    if not places:
        return groups, rests, places
    length = stretch.starts[-1]
    merged: dict[Fraction, _Struck] = {}
    for group in groups:
        at = places.get(group.at, group.at)
        at = at if at < length else stretch.starts[-2]
        merged.setdefault(at, _Struck(at, [])).notes.extend(
            replace(note, at=at, end=max(at, places.get(note.end, note.end))) for note in group.notes
        )
    done = [merged[at] for at in sorted(merged)]
    moved = {places.get(rest, rest) for rest in rests}
    return done, sorted(rest for rest in moved if rest < length and rest not in merged), places


def _part_of_whole(found: dict[Fraction, Fraction]) -> str:
    worst = max(abs(to - offset) for offset, to in found.items())
    return f"1/{max(1, round(1 / worst))}" if worst else "0"


def _let_ring(groups: Sequence[_Struck], length: Fraction) -> None:
    """Set which groups ring: those that are marked, and those that others sound through."""
    for group in groups:
        group.ring = any(note.ring for note in group.notes)
    if _rings_as_marked(groups, length):
        return
    lasting = Fraction(0)
    for number, group in enumerate(groups):
        following = groups[number + 1].at if number + 1 < len(groups) else length
        longest = max(note.end for note in group.notes)
        if lasting > group.at or longest > following:
            group.ring = True
            lasting = max(lasting, longest)


def _rings_as_marked(groups: Sequence[_Struck], length: Fraction) -> bool:
    """Whether every note that sounds beyond the next one is marked, as it is in a score that an exercise wrote."""
    for number, group in enumerate(groups):
        following = groups[number + 1].at if number + 1 < len(groups) else length
        if not group.ring and any(note.end > following for note in group.notes):
            return False
    return True


def _moment(offset: Fraction, group: _Struck, held: Sequence[tuple[ScoreNote, Note]]) -> Moment:
    of = [score for score, _ in held]
    return Moment(
        offset,
        tuple(sorted((note for _, note in held), key=lambda note: note.string)),
        mute=any(each.mute for each in of),
        ring=group.ring,
        accent=max(each.accent for each in of),
        pick=next((each.pick for each in of if each.pick), ""),
    )


def _name_chord(at: Fraction, chord: str, bars: list[dict[Fraction, Moment]], stretch: Stretch) -> None:
    """Write a chord name at its place, or at the nearest count where it cannot be said there."""
    bar = stretch.bar_of(at)
    meter, offset = stretch.meters[bar], at - stretch.starts[bar]
    there = frozenset(bars[bar])
    if offset >= meter.length or not is_countable(there | {offset}, meter):
        counts = [meter.count_length * number for number in range(meter.counts)]
        offset = min((*there, *counts), key=lambda place: abs(place - offset))
    moment = bars[bar].get(offset, Moment(offset))
    if not moment.chord:
        bars[bar][offset] = replace(moment, chord=chord)


def _compare(
    part: TabPart,
    struck: Sequence[tuple[_Struck, Sequence[tuple[ScoreNote, Note]]]],
    places: dict[Fraction, Fraction],
    where: PartStretch,
) -> None:
    """Tell which notes sound longer or shorter than the score says, once for each bar."""
    stretch = where.stretch
    ends = {(note.at, note.note.string): note.end for note in sounding(part, stretch.starts)}
    wrong: dict[tuple[int, str], list[Fraction]] = defaultdict(list)
    for group, held in struck:
        for score, note in held:
            end = ends.get((group.at, note.string))
            wanted = places.get(score.end, score.end)
            if end is not None and end != wanted and not score.ring:
                how = "longer" if end > wanted else "shorter"
                wrong[stretch.bar_of(group.at), how].append(group.at)
    for (_, how), found in wrong.items():
        many = "a note sounds" if len(found) == 1 else f"{len(found)} notes sound"
        where.tell(found[0], f"{many} {how} than the score says")


def drum_part(where: PartStretch, hits: Sequence[tuple[Fraction, Hit]]) -> DrumPart:
    """A part for the kit in one riff; arguments as for `tab_part`."""
    stretch = where.stretch
    bars: list[dict[Fraction, dict[str, Force]]] = [defaultdict(dict) for _ in stretch.meters]
    for at, hit in hits:
        place = at - stretch.start
        bar = stretch.bar_of(place)
        bars[bar][place - stretch.starts[bar]].setdefault(hit.piece, hit.force)
    return DrumPart(where.part, tuple(_drum_bar(number, struck, where) for number, struck in enumerate(bars)))


def _drum_bar(number: int, struck: dict[Fraction, dict[str, Force]], where: PartStretch) -> tuple[DrumMoment, ...]:
    meter = where.stretch.meters[number]
    counted = {offset: offset for offset in struck}
    if not is_countable(frozenset(struck), meter):
        counted = dict(fitted(frozenset(struck), meter).places)
        away = min(offset for offset, to in counted.items() if to != offset)
        what = "hits at places that no count row can say are moved to the nearest"
        where.tell(where.stretch.starts[number] + away, what)
    again: dict[Fraction, dict[str, Force]] = defaultdict(dict)
    for offset, pieces in struck.items():
        to = counted[offset]
        again[to if to < meter.length else Fraction(meter.counts - 1, meter.unit)] |= pieces
    return tuple(
        DrumMoment(offset, tuple(Hit(piece, again[offset][piece]) for piece in KIT if piece in again[offset]))
        for offset in sorted(again)
    )
