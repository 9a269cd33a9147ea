"""The chords of a riff: those that are written, else those that are played. A bar without a chord has none.

Nothing is made up: every note of a chord's name is played (a fifth may be missing over its root, and is then told).
Where no name is written, evidence is looked for in this order, bar by bar:

1. *Struck*: a guitar strikes two or more pitches at once. Two pitches are a chord only as a fifth (a power chord), or
   where the bass completes them.
2. *Arpeggio*: one guitar plays a chord's notes one after another, in a bar or half bar, mostly by leaps or ringing.
3. *Voices*: two or more single lines and the bass hold three pitches together for two beats or longer.

A melody over a bass, a scale, a finger drill and a riff on one string are no chords.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from trainer.arranging.chord_name import QUALITIES, name_chord, read_chord
from trainer.arranging.hand import is_bass
from trainer.arranging.phrases import pitched
from trainer.arranging.scale import parent, spell
from trainer.music.key import Key
from trainer.music.note import Attack
from trainer.music.pitch import Name
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

PASSING = 0.15
"""Up to this share of an arpeggio's notes may be passing notes outside the chord. House rule."""
LEAPS = 0.7
"""So much of an arpeggio moves by a minor third or more, unless it rings. House rule."""
ARPEGGIO_STRINGS = 2
"""On fewer strings a line is a riff or a run, unless it rings or is tapped. House rule."""
BROKEN = frozenset({"", "m", "dim", "aug", "7", "maj7", "m7", "m7b5", "dim7"})
"""Chords that a line without let ring can spell; others are heard only where the notes ring into each other."""
HELD_BEATS = 2
"""Single lines make a chord together where they stand still for so many beats. House rule."""
CERTAIN = {"written": 1.0, "struck": 1.0, "arpeggio": 0.9, "voices": 0.8}
"""How sure each kind of evidence is where nothing speaks against it. House rule."""
DOUBT = 0.25
"""What a missing fifth, a note outside or a foreign bass takes from that. House rule."""


@dataclass(frozen=True, slots=True)
class PlayedChord:
    """One chord and where it sounds."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    length: Fraction
    """In whole notes; it may go on into the next bars."""
    root: Name
    quality: str
    """A key of `QUALITIES`."""
    bass: Name
    source: str
    """A key of `CERTAIN`."""
    confidence: float
    """0 to 1."""
    numeral: str
    """Its degree in the key: "iv", "VI", "I5"."""
    missing: tuple[Name, ...] = ()
    """Notes of the name that nobody plays: a fifth at most."""
    outside: tuple[Name, ...] = ()
    """Notes played with it that do not belong to it."""

    @property
    def name(self) -> str:
        """As it is written over the staff: "C/E"."""
        return f"{self.root}{self.quality}" + (f"/{self.bass}" if self.bass != self.root else "")


@dataclass(frozen=True, slots=True)
class _Found:
    """A chord between two places, in pitch classes."""

    begin: Fraction
    end: Fraction
    root: int
    quality: str
    bass: int
    source: str
    doubts: int = 0
    missing: tuple[int, ...] = ()
    outside: tuple[int, ...] = ()


def played_chords(riff: Riff) -> tuple[PlayedChord, ...]:
    """The chords of a riff whose harmonies have been computed, in order."""
    written = tuple(_written(riff))
    if written:
        return written
    found = [one for bar in _bars(riff) for one in _bar_chords(bar)]
    return tuple(_chord(one, riff) for one in _joined(found))


def unknown_chord_names(riff: Riff) -> tuple[tuple[int, Fraction, str], ...]:
    """Written chord names that are not understood: bar (from 1), offset, name."""
    return tuple(
        (bar, moment.offset, moment.chord)
        for part in riff.tabs
        for bar, moments in enumerate(part.bars, 1)
        for moment in moments
        if moment.chord and read_chord(moment.chord) is None
    )


def numeral(root: Name, quality: str, key: Key) -> str:
    """A chord's degree in a key as a Roman numeral: small for minor and diminished, b or # where the key has it not."""
    degree = (root.step - key.tonic.step) % 7
    own = next(name for name in parent(key).names if name.step == root.step)
    sign = "#" * (root.alter - own.alter) + "b" * (own.alter - root.alter)
    small = quality.startswith(("m", "dim")) and not quality.startswith("maj")
    text = ("I", "II", "III", "IV", "V", "VI", "VII")[degree]
    rest = {"m": "", "dim": "°", "dim7": "°7"}.get(quality)
    rest = (quality.removeprefix("m") if small else quality) if rest is None else rest
    return f"{sign}{text.lower() if small else text}{rest}"


def _written(riff: Riff) -> Iterator[PlayedChord]:
    """The names over the staff, each until the next."""
    names: dict[Fraction, str] = {}
    for part in riff.tabs:
        for start, moments in zip(riff.bar_starts, part.bars, strict=False):
            for moment in moments:
                if moment.chord:
                    names.setdefault(start + moment.offset, moment.chord)
    changes = sorted(names)
    changes = [
        place
        for before, place in zip([None, *changes], changes, strict=False)
        if before is None or names[before] != names[place]
    ]
    places = [*changes, riff.length]
    for place, end in pairwise(places):
        read = read_chord(names[place])
        if read is not None:
            bar = max(index for index, start in enumerate(riff.bar_starts[:-1]) if start <= place)
            root, quality, bass = read
            degree = numeral(root, quality, riff.key)
            yield PlayedChord(
                bar + 1, place - riff.bar_starts[bar], end - place, root, quality, bass, "written", 1.0, degree
            )


@dataclass(frozen=True, slots=True)
class _Bar:
    """The notes that sound in one bar: for each guitar a list, and the basses' together."""

    begin: Fraction
    end: Fraction
    pulse: Fraction
    guitars: tuple[list[SoundingNote], ...]
    basses: list[SoundingNote]

    def bass_at(self, place: Fraction) -> int | None:
        """The bass's pitch class that sounds at a place."""
        sounding = [note.midi for note in self.basses if note.at <= place < note.end]
        return min(sounding) % 12 if sounding else None

    def main_bass(self, begin: Fraction, end: Fraction) -> int | None:
        """The bass's pitch class that sounds longest between two places; the first of several."""
        lengths: dict[int, Fraction] = {}
        for note in self.basses:
            if note.at < end and note.end > begin:
                shared = min(note.end, end) - max(note.at, begin)
                lengths[note.midi % 12] = lengths.get(note.midi % 12, Fraction(0)) + shared
        return max(lengths, key=lambda tone: lengths[tone]) if lengths else None


def _bars(riff: Riff) -> list[_Bar]:
    starts = riff.bar_starts
    guitars = [part for part in riff.tabs if not is_bass(part.instrument)]
    bars = [
        _Bar(begin, end, meter.pulse, tuple([] for _ in guitars), [])
        for begin, end, meter in zip(starts, starts[1:], riff.meters, strict=False)
    ]
    for number, part in enumerate(guitars):
        for note in pitched(part, riff):
            for bar in range(note.bar, bisect_left(starts, note.end)):
                bars[bar].guitars[number].append(note)
    for part in riff.tabs:
        if is_bass(part.instrument):
            for note in pitched(part, riff):
                for bar in range(note.bar, bisect_left(starts, note.end)):
                    bars[bar].basses.append(note)
    return bars


def _bar_chords(bar: _Bar) -> list[_Found]:
    starting = [[note for note in part if note.at >= bar.begin] for part in bar.guitars]
    struck = _struck(starting, bar)
    if struck:
        return struck
    middle = bar.begin + (bar.end - bar.begin) / 2
    for places in ([bar.begin, bar.end], [bar.begin, middle, bar.end]):
        pieces = [_arpeggio(starting, bar, low, high) for low, high in pairwise(places)]
        found = [piece for piece in pieces if piece]
        if len(found) == len(pieces):  # half a bar of leaps inside a melody is still melody
            return found
    return _voices(bar)


def _struck(parts: Sequence[Sequence[SoundingNote]], bar: _Bar) -> list[_Found]:
    """The chords that are struck in a bar; each lasts until another is, or its part plays something outside it."""
    strums: dict[Fraction, list[SoundingNote]] = {}
    onsets: dict[Fraction, list[SoundingNote]] = {}
    for part in parts:
        by_place: dict[Fraction, list[SoundingNote]] = {}
        for note in part:
            by_place.setdefault(note.at, []).append(note)
        strumming = {place for place, notes in by_place.items() if len({note.midi % 12 for note in notes}) > 1}
        if strumming:
            for place, notes in by_place.items():
                (strums if place in strumming else onsets).setdefault(place, []).extend(notes)
    found: list[_Found] = []
    places = sorted({*strums, *onsets})
    for place, after in pairwise([*places, bar.end]):
        notes = strums.get(place, [])
        last = found[-1] if found and found[-1].end == place else None
        if not notes:
            tones = _tones(last.root, last.quality) if last else frozenset()
            if last and all(note.midi % 12 in tones for note in onsets[place]):
                found[-1] = replace(last, end=after)
            continue
        one = _named(notes, bar.bass_at(place), place, min(after, max(note.end for note in notes)))
        many = len({note.midi % 12 for note in notes}) > 2
        if one is not None and (many or one.quality == "5" or after - place >= bar.pulse):
            found.append(one)
    return _joined(found)


def _named(notes: Sequence[SoundingNote], bass: int | None, begin: Fraction, end: Fraction) -> _Found | None:
    """The name of what is struck at once."""
    tones = frozenset(note.midi % 12 for note in notes)
    lowest = min(note.midi for note in notes) % 12
    low = lowest if bass is None else bass
    whole = name_chord(tones | {low}, low)
    if whole is not None:
        return _Found(begin, end, *whole, low, "struck")
    third = [
        (root, quality) for root, quality in ((low, ""), (low, "m")) if tones == {low, (low + _third(quality)) % 12}
    ]
    if third and bass is not None:
        (root, quality) = third[0]
        return _Found(begin, end, root, quality, low, "struck", 1, ((root + 7) % 12,))
    own = name_chord(tones, lowest)
    if own is not None:
        return _Found(begin, end, *own, low, "struck", int(low != own[0]))
    if len(tones) < 4:
        return None
    best = [
        (name, tone)
        for tone in sorted(tones)
        if tone != low and (name := name_chord(tones - {tone}, low)) is not None and name[0] == low
    ]
    return _Found(begin, end, *best[0][0], low, "struck", 1, (), (best[0][1],)) if best else None


def _third(quality: str) -> int:
    return QUALITIES[quality][1]


@lru_cache(maxsize=1024)
def _tones(root: int, quality: str) -> frozenset[int]:
    return frozenset((root + tone) % 12 for tone in QUALITIES[quality])


def _arpeggio(parts: Sequence[Sequence[SoundingNote]], bar: _Bar, begin: Fraction, end: Fraction) -> _Found | None:
    """The chord that one guitar plays note by note between two places; the first part that plays one tells."""
    bass = bar.main_bass(begin, end)
    for part in parts:
        notes = [note for note in part if begin <= note.at < end]
        if len(notes) < 3:
            continue
        moves = [abs(two.midi - one.midi) for one, two in pairwise(notes)]
        ringing = sum(note.moment.ring for note in notes) > len(notes) / 2
        tapped = any(note.note.attack is Attack.TAP for note in notes)
        if not ringing and not tapped and len({note.note.string for note in notes}) < ARPEGGIO_STRINGS:
            continue
        if not ringing and (len(notes) < 4 or sum(move >= 3 for move in moves) < LEAPS * len(moves)):
            continue
        counts = Counter(note.midi % 12 for note in notes)
        low = min(note.midi for note in notes) % 12 if bass is None else bass
        fitting = []
        for rank, quality in enumerate(QUALITIES):
            if quality not in BROKEN and not ringing:
                continue
            for root in range(12):
                tones = _tones(root, quality)
                strange = [tone for tone in counts if tone not in tones]
                share = sum(counts[tone] for tone in strange) / len(notes)
                if len(tones) > 2 and tones <= {*counts, low} and share <= PASSING:
                    fitting.append((share, low not in tones, root != low, rank, root, quality, tuple(strange)))
        if fitting:
            share, foreign, _, _, root, quality, strange_tones = min(fitting)
            return _Found(begin, end, root, quality, low, "arpeggio", int(share > 0) + int(foreign), (), strange_tones)
    return None


def _voices(bar: _Bar) -> list[_Found]:
    """The chords that single lines and the bass hold together in a bar."""
    lines = [line for line in bar.guitars if line]
    if len(lines) + bool(bar.basses) < 3:
        return []
    cuts = sorted({bar.begin, bar.end, *(note.at for line in lines for note in line if note.at > bar.begin)})
    found = []
    for low, high in pairwise(cuts):
        notes = [note for line in lines for note in line if note.at <= low and note.end > low]
        bass = bar.main_bass(low, high)
        tones = frozenset(note.midi % 12 for note in notes) | ({bass} if bass is not None else set())
        if high - low < min(HELD_BEATS * bar.pulse, bar.end - bar.begin) or len(tones) < 3:
            continue
        under = bass if bass is not None else min(note.midi for note in notes) % 12
        named = name_chord(tones, under)
        if named is not None:
            found.append(_Found(low, high, *named, under, "voices"))
    return found


def _joined(found: Iterable[_Found]) -> list[_Found]:
    """Neighbours of one name as one."""
    joined: list[_Found] = []
    for one in found:
        last = joined[-1] if joined else None
        if last and last.end == one.begin and (last.root, last.quality, last.bass) == (one.root, one.quality, one.bass):
            outside = tuple(dict.fromkeys((*last.outside, *one.outside)))
            joined[-1] = replace(last, end=one.end, doubts=max(last.doubts, one.doubts), outside=outside)
        else:
            joined.append(one)
    return joined


def _chord(found: _Found, riff: Riff) -> PlayedChord:
    starts = riff.bar_starts
    bar = max(index for index, start in enumerate(starts[:-1]) if start <= found.begin)
    root, bass = spell(riff.key, found.root).name, spell(riff.key, found.bass).name
    return PlayedChord(
        bar + 1,
        found.begin - starts[bar],
        found.end - found.begin,
        root,
        found.quality,
        bass,
        found.source,
        max(0.0, CERTAIN[found.source] - DOUBT * found.doubts),
        numeral(root, found.quality, riff.key),
        tuple(spell(riff.key, tone).name for tone in found.missing),
        tuple(spell(riff.key, tone).name for tone in found.outside),
    )
