"""Two parts side by side: which bars of one answer which of the other, and in what they differ.

Bars are aligned so that as little as possible is changed, left out or added (the edit distance of two texts, with bars
for letters). Between two bars that answer each other every beat is compared: do the notes start at the same places
(*rhythm*), at the same pitches (*pitch*), played in the same way (*articulation*), on the same strings (*place*), with
the same strokes and fingers (*strokes*)? Where notes do not start together their pitches are not compared.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import TypeVar

from trainer.arranging.place_words import bars_words, join_words
from trainer.music.meter import Meter
from trainer.music.note import DrumMoment, Moment, Note, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi

KINDS = ("rhythm", "pitch", "articulation", "place", "strokes")
"""In what two beats may differ, the gravest first."""
TRANSPOSED = 0.8
"""Share of the notes struck together that must lie equally far apart for a part to be another one transposed. House
rule."""
GAP = 0.7
"""What a bar without an answer costs, where one that differs in every beat costs 1. House rule."""
WEIGHTS = {"rhythm": 1.0, "pitch": 1.0, "articulation": 0.3, "place": 0.2, "strokes": 0.1}
"""How much a beat counts that differs in nothing graver, for the alignment. House rule."""

M = TypeVar("M", Moment, DrumMoment)
_Beat = tuple[tuple[object, ...], tuple[object, ...], tuple[object, ...], tuple[object, ...], tuple[object, ...]]
"""What a beat is made of, in the order of `KINDS`."""
_Bar = tuple[_Beat, ...]
"""A bar's beats."""


@dataclass(frozen=True, slots=True)
class BeatDifference:
    """One beat that is not the same."""

    beat: int
    """From 1, in the first part's bar."""
    kinds: tuple[str, ...]
    """Of `KINDS`, the gravest first."""


@dataclass(frozen=True, slots=True)
class BarPair:
    """A bar of one part and the one that answers it in the other."""

    one: int | None
    """From 1; None where the other part has a bar more."""
    other: int | None
    beats: tuple[BeatDifference, ...] = ()
    whole: bool = False
    """Every beat differs, or one bar is missing."""

    @property
    def same(self) -> bool:
        """Whether both are there and nothing differs."""
        return self.one is not None and self.other is not None and not self.beats


@dataclass(frozen=True, slots=True)
class PartComparison:
    """Two parts side by side."""

    one: str
    """The first part's name."""
    other: str
    semitones: int
    """By how much the second part lies higher throughout; this is no difference of its bars."""
    pairs: tuple[BarPair, ...]
    """In order."""
    drums: bool = False
    """They are written for the kit."""

    @property
    def same(self) -> int:
        """How many bars are the same."""
        return sum(pair.same for pair in self.pairs)


def compare(one: TabPart | DrumPart, riff: Riff, other: TabPart | DrumPart, other_riff: Riff) -> PartComparison | None:
    """Compare two parts of two riffs (or of one); None where one is written for the kit and the other on strings."""
    if isinstance(one, DrumPart) != isinstance(other, DrumPart):
        return None
    semitones = 0
    if isinstance(one, TabPart) and isinstance(other, TabPart):
        semitones = _transposition(one, other)
    placed = not semitones  # what is transposed lies elsewhere
    mine, theirs = _bars(one, riff, 0, placed=placed), _bars(other, other_riff, semitones, placed=placed)
    pairs = tuple(_pair(mine, theirs, a, b) for a, b in _aligned(mine, theirs))
    return PartComparison(one.name, other.name, semitones, pairs, isinstance(one, DrumPart))


def _pair(mine: Sequence[_Bar], theirs: Sequence[_Bar], a: int | None, b: int | None) -> BarPair:
    if a is None or b is None:
        return BarPair(None if a is None else a + 1, None if b is None else b + 1, (), True)
    beats = _differences(mine[a], theirs[b])
    return BarPair(a + 1, b + 1, beats, len(beats) == max(len(mine[a]), len(theirs[b])))


def _transposition(one: TabPart, other: TabPart) -> int:
    """By how many semitones the second part lies higher than the first; 0 where its notes do not agree on that."""
    rises: Counter[int] = Counter()
    for bar, answer in zip(one.bars, other.bars, strict=False):
        above = {moment.offset: _keys(other, moment) for moment in answer}
        for moment in bar:
            mine, theirs = _keys(one, moment), above.get(moment.offset, ())
            if mine and theirs:
                rises[theirs[0] - mine[0]] += 1
    if not rises:
        return 0
    semitones, often = rises.most_common(1)[0]
    return semitones if often >= TRANSPOSED * rises.total() else 0


def _keys(part: TabPart, moment: Moment) -> tuple[int, ...]:
    return tuple(sorted(note_midi(part.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD))


def _bars(part: TabPart | DrumPart, riff: Riff, semitones: int, *, placed: bool) -> list[_Bar]:
    """Each bar's beats, transposed down by some semitones, with places on the neck or without."""
    if isinstance(part, DrumPart):
        return [_drum_beats(bar, meter) for bar, meter in zip(part.bars, riff.meters, strict=False)]
    return [_tab_beats(part, bar, meter, semitones, placed) for bar, meter in zip(part.bars, riff.meters, strict=False)]


def _tab_beats(part: TabPart, bar: Sequence[Moment], meter: Meter, semitones: int, placed: bool) -> _Bar:
    found = []
    for moments in _by_beat(bar, meter):
        played = [moment for moment in moments if moment.notes or moment.rest]
        notes = [
            sorted(moment.notes, key=lambda note: (note_midi(part.instrument, note), note.string)) for moment in played
        ]
        found.append(
            (
                tuple((moment.offset, moment.rest) for moment in played),
                tuple(tuple(_sound(part, note, semitones) for note in chord) for chord in notes),
                tuple(
                    (moment.mute, moment.ring, moment.accent, *(_how(note) for note in chord))
                    for moment, chord in zip(played, notes, strict=True)
                ),
                tuple(tuple((note.string, note.fret) for note in chord) for chord in notes) if placed else (),
                tuple(
                    (moment.pick, *(note.finger for note in chord)) for moment, chord in zip(played, notes, strict=True)
                ),
            )
        )
    return tuple(found)


def _sound(part: TabPart, note: Note, semitones: int) -> object:
    """What a note sounds: its key and where a bend takes it; nothing for a dead note."""
    if note.touch is Touch.DEAD:
        return None
    rises = tuple(None if goal is None else goal - note.fret for goal in (note.bend, note.release))
    return (note_midi(part.instrument, note) - semitones, *rises)


def _how(note: Note) -> object:
    return (note.attack, note.touch, note.vibrato, note.short)


def _drum_beats(bar: Sequence[DrumMoment], meter: Meter) -> _Bar:
    return tuple(
        (
            tuple(moment.offset for moment in moments),
            tuple(tuple(hit.piece for hit in moment.hits) for moment in moments),
            tuple(tuple(hit.force for hit in moment.hits) for moment in moments),
            (),
            (),
        )
        for moments in _by_beat(bar, meter)
    )


def _by_beat(bar: Sequence[M], meter: Meter) -> Iterator[list[M]]:
    """A bar's moments beat by beat."""
    for number in range(-(-meter.length // meter.pulse)):
        begin, end = number * meter.pulse, (number + 1) * meter.pulse
        yield [moment for moment in bar if begin <= moment.offset < end]


def _differences(one: Sequence[_Beat], other: Sequence[_Beat]) -> tuple[BeatDifference, ...]:
    found = []
    for number in range(max(len(one), len(other))):
        if number >= len(one) or number >= len(other):
            found.append(BeatDifference(number + 1, ("rhythm",)))
            continue
        kinds = [kind for kind, a, b in zip(KINDS, one[number], other[number], strict=True) if a != b]
        if kinds[:1] == ["rhythm"]:
            kinds = ["rhythm"]
        elif kinds[:1] == ["pitch"]:
            kinds = [kind for kind in kinds if kind != "place"]  # another pitch lies elsewhere
        if kinds:
            found.append(BeatDifference(number + 1, tuple(kinds)))
    return tuple(found)


def _aligned(mine: Sequence[_Bar], theirs: Sequence[_Bar]) -> list[tuple[int | None, int | None]]:
    """Pairs of bars (from 0) that answer each other, None beside a bar without an answer; the cheapest in all."""
    rows, columns = len(mine), len(theirs)
    known: dict[tuple[_Bar, _Bar], float] = {}
    cost = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for a in range(rows, -1, -1):
        for b in range(columns, -1, -1):
            ways = []
            if a < rows and b < columns:
                ways.append(_cost(mine[a], theirs[b], known) + cost[a + 1][b + 1])
            if a < rows:
                ways.append(GAP + cost[a + 1][b])
            if b < columns:
                ways.append(GAP + cost[a][b + 1])
            cost[a][b] = min(ways, default=0.0)
    found: list[tuple[int | None, int | None]] = []
    a = b = 0
    while a < rows or b < columns:
        if a < rows and b < columns and cost[a][b] == _cost(mine[a], theirs[b], known) + cost[a + 1][b + 1]:
            found.append((a, b))
            a, b = a + 1, b + 1
        elif a < rows and cost[a][b] == GAP + cost[a + 1][b]:
            found.append((a, None))
            a += 1
        else:
            found.append((None, b))
            b += 1
    return found


def _cost(
    one: _Bar,
    other: _Bar,
    known: dict[tuple[_Bar, _Bar], float],
) -> float:
    """How much of a bar must be changed to make the other: 0 nothing, 1 every beat."""
    if one == other:
        return 0.0
    found = known.get((one, other))
    if found is None:
        different = sum(WEIGHTS[beat.kinds[0]] for beat in _differences(one, other))
        found = known[(one, other)] = different / max(len(one), len(other))
    return found


def comparison_sentences(found: PartComparison) -> tuple[str, ...]:
    """In words: what is the same, then each bar that is not, with its beats and in what they differ."""
    told = []
    if found.semitones:
        way = "higher" if found.semitones > 0 else "lower"
        count = abs(found.semitones)
        told.append(f"The second lies {count} semitone{'s' if count > 1 else ''} {way} throughout.")
    others = [pair for pair in found.pairs if not pair.same]
    if not others:
        return (*told, "The same, note for note.")
    in_place = all(pair.one == pair.other for pair in found.pairs)
    if found.same and in_place and len(others) == 1:
        return (*told, f"The same but for {_beats_words(others[0])}: {_kinds_words(others[0], found)}.")
    same = tuple(pair.one for pair in found.pairs if pair.same and pair.one is not None)
    told.append(f"The same: {bars_words(same)}{_moved_words(found)}." if same else "No bar is the same.")
    if in_place and not any("rhythm" in beat.kinds for pair in others for beat in pair.beats):
        told.append("The rhythm is the same throughout.")
    return (*told, *(_run_words(list(run), found) for _, run in groupby(others, _group)))


def _group(pair: BarPair) -> object:
    """Bars in a row that differ in the same way on every beat are told together; others one by one."""
    moved = None if pair.one is None or pair.other is None else pair.other - pair.one
    return (moved, pair.one is None, _kinds(pair)) if pair.whole else (pair.one, pair.other)


def _kinds(pair: BarPair) -> tuple[str, ...]:
    return tuple(kind for kind in KINDS if any(kind in beat.kinds for beat in pair.beats))


def _moved_words(found: PartComparison) -> str:
    """Where the same bars of the second stand, if elsewhere."""
    same = [(pair.one, pair.other) for pair in found.pairs if pair.same]
    if all(one == other for one, other in same):
        return ""
    return f" (in the second: {bars_words(tuple(other for _, other in same if other is not None))})"


def _run_words(run: Sequence[BarPair], found: PartComparison) -> str:
    pair = run[0]
    one = tuple(each.one for each in run if each.one is not None)
    other = tuple(each.other for each in run if each.other is not None)
    if not one or not other:
        words = bars_words(one or other)
        side = "first" if one else "second"
        return f"{words[0].upper()}{words[1:]} {'is' if len(run) == 1 else 'are'} only in the {side}."
    words = f"all of {bars_words(one)}" if pair.whole else _beats_words(pair)
    beside = "" if one == other else f" ({bars_words(other)} in the second)"
    return f"{words[0].upper()}{words[1:]}{beside}: {_kinds_words(pair, found)}."


def _beats_words(pair: BarPair) -> str:
    """The beats of a bar that differ: "beats 3 and 4 of bar 4"."""
    numbers = [str(beat.beat) for beat in pair.beats]
    return f"beat{'s' if len(numbers) > 1 else ''} {join_words(numbers)} of bar {pair.one}"


def _kinds_words(pair: BarPair, found: PartComparison) -> str:
    """In what a bar differs, the gravest first."""
    words = _DRUM_WORDS if found.drums else _KIND_WORDS
    return f"another {join_words([words[kind] for kind in _kinds(pair)])}"


_KIND_WORDS = {kind: kind for kind in KINDS} | {"strokes": "stroke or finger", "place": "place on the neck"}
_DRUM_WORDS = _KIND_WORDS | {"pitch": "drum", "articulation": "force"}


@dataclass(frozen=True, slots=True)
class SettingDifference:
    """A riff's key, meter or tempo that is not the same."""

    what: str
    one: str
    other: str


def setting_differences(one: Riff, other: Riff) -> tuple[SettingDifference, ...]:
    """What differs between two riffs beside their notes."""
    pairs = (
        ("key", str(one.key), str(other.key)),
        ("meter", _meters(one), _meters(other)),
        ("start", _bpm(one.tempo.start), _bpm(other.tempo.start)),
        ("target", _bpm(one.tempo.target), _bpm(other.tempo.target)),
    )
    return tuple(SettingDifference(what, a, b) for what, a, b in pairs if a != b)


def _meters(riff: Riff) -> str:
    return ", ".join(dict.fromkeys(str(meter) for meter in riff.meters))


def _bpm(bpm: Fraction) -> str:
    return f"{float(bpm):g} bpm"
