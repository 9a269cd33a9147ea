"""The chords that bass and guitars imply together, beat by beat, neighbours of one name joined.

For every beat the pitch classes that sound are weighed by how long they sound in it, the lowest one twice. Each chord
(root and quality of `chord_name.QUALITIES`) gains the weight of its notes that sound and loses that of notes outside
it, and a little for each of its notes that is missing, more where the key has not that note; a root in the bass counts
for it. Where only one pitch class sounds there is no chord but a note. House rules; a chord name that is written stands
as it is.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.arranging.chord_name import QUALITIES
from trainer.arranging.phrases import low_notes, pitched
from trainer.arranging.scale import spell
from trainer.music.key import Key
from trainer.music.part import TabPart
from trainer.music.pitch import Name
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

MISSING = 0.35
"""What each note a chord lacks costs, as a share of all that sounds. House rule."""
BASS_ROOT = 0.25
"""What a root in the bass is worth, as a share of all that sounds. House rule."""
PASSING = 0.05
"""A note below this share of what sounds is passing and needs no chord. House rule."""
NOT_IN_KEY = 0.1
"""What a missing note costs on top where the key has not that note. House rule."""
PLAIN = {"5": 0.0, "": 0.05, "m": 0.05, "dim": 0.15, "7": 0.15, "m7": 0.15, "maj7": 0.2}
"""What each quality costs beside plainer ones, as a share of all that sounds. House rule."""
ORNATE = 0.25
"""What the other qualities cost. House rule."""


@dataclass(frozen=True, slots=True)
class ImpliedChord:
    """What sounds together over some beats."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    length: Fraction
    """In whole notes; it may go on into the next bars."""
    root: Name
    quality: str
    """A key of `QUALITIES`; "note" where one pitch class alone sounds."""
    bass: Name
    outside: tuple[Name, ...]
    """Notes that sound and do not belong to it."""

    @property
    def name(self) -> str:
        """As it is written over the staff: "C/E"; for a single note its name and "alone"."""
        if self.quality == NOTE:
            return f"{self.root} alone"
        return f"{self.root}{self.quality}" + (f"/{self.bass}" if self.bass != self.root else "")


NOTE = "note"


def implied_chords(parts: Sequence[TabPart], riff: Riff) -> tuple[ImpliedChord, ...]:
    """The chords that some parts of a riff imply; beats in which nothing sounds are left out."""
    every = _Line.of([note for part in parts for note in pitched(part, riff)])
    low = low_notes(parts)
    bass = _Line.of(pitched(low, riff) if low else ())
    found: list[ImpliedChord] = []
    for bar, (start, meter) in enumerate(zip(riff.bar_starts, riff.meters, strict=False), 1):
        offset = Fraction(0)
        while offset < meter.length:
            length = min(meter.pulse, meter.length - offset)
            begin, end = float(start + offset), float(start + offset + length)
            weights = every.weights(begin, end)
            if any(weights):
                lowest = bass.lowest(begin, end)
                root, quality, under = _best(weights, None if lowest is None else lowest % 12, riff.key)
                tones = {(root + tone) % 12 for tone in QUALITIES.get(quality, (0,))}
                strange = [semitone for semitone in range(12) if weights[semitone] and semitone not in tones]
                names = [spell(riff.key, semitone).name for semitone in (root, under, *strange)]
                found.append(ImpliedChord(bar, offset, length, names[0], quality, names[1], tuple(names[2:])))
            offset += meter.pulse
    return _joined(found, riff)


@dataclass(frozen=True, slots=True)
class _Line:
    """Notes in order of their start, with places as plain numbers, to be asked what sounds in a beat."""

    notes: tuple[tuple[float, float, int], ...]
    """Start, end, MIDI key."""
    longest: float

    @classmethod
    def of(cls, notes: Sequence[SoundingNote]) -> "_Line":
        rows = sorted((float(note.at), float(note.end), note.midi) for note in notes)
        return cls(tuple(rows), max((end - begin for begin, end, _ in rows), default=0.0))

    def inside(self, begin: float, end: float) -> list[tuple[float, int]]:
        """How long each note sounds between two places, in whole notes, and its MIDI key."""
        low = bisect_left(self.notes, (begin - self.longest,))
        high = bisect_left(self.notes, (end,))
        parts = ((min(stop, end) - max(start, begin), midi) for start, stop, midi in self.notes[low:high])
        return [(length, midi) for length, midi in parts if length > 1e-9]

    def weights(self, begin: float, end: float) -> tuple[float, ...]:
        """For each pitch class how long it sounds, in shares of the time between two places."""
        weights = [0.0] * 12
        for length, midi in self.inside(begin, end):
            weights[midi % 12] += length / (end - begin)
        return tuple(round(weight, 6) for weight in weights)

    def lowest(self, begin: float, end: float) -> int | None:
        """The lowest key that sounds."""
        return min((midi for _, midi in self.inside(begin, end)), default=None)


_CHORDS = tuple(
    (root, rank, quality, frozenset((root + tone) % 12 for tone in shape))
    for root in range(12)
    for rank, (quality, shape) in enumerate(QUALITIES.items())
)


@lru_cache(maxsize=4096)
def _best(weights: tuple[float, ...], bass: int | None, key: Key) -> tuple[int, str, int]:
    """Root, quality and bass note of the best fitting chord."""
    low = bass if bass is not None else max(range(12), key=lambda semitone: weights[semitone])
    heavy = [weight * (2 if semitone == low else 1) for semitone, weight in enumerate(weights)]
    total = sum(heavy)
    heard = frozenset(semitone for semitone, weight in enumerate(heavy) if weight >= PASSING * total)
    if len(heard) == 1:
        (only,) = heard
        return only, NOTE, low if low in heard else only
    scale = frozenset(key.semitones)
    scores = []
    for root, rank, quality, tones in _CHORDS:
        missing = tones - heard
        gain = (2 * sum(heavy[semitone] for semitone in tones) - total) / total
        score = gain - MISSING * len(missing) - NOT_IN_KEY * len(missing - scale)
        score += BASS_ROOT * (root == low) - PLAIN.get(quality, ORNATE)
        scores.append((-round(score, 9), rank, root, quality))
    _, _, root, quality = min(scores)
    return root, quality, low


def _joined(chords: Sequence[ImpliedChord], riff: Riff) -> tuple[ImpliedChord, ...]:
    """Neighbours of one name as one."""
    found: list[ImpliedChord] = []
    for chord in chords:
        if found:
            last = found[-1]
            end = riff.bar_starts[last.bar - 1] + last.offset + last.length
            if last.name == chord.name and end == riff.bar_starts[chord.bar - 1] + chord.offset:
                outside = tuple(dict.fromkeys((*last.outside, *chord.outside)))
                found[-1] = ImpliedChord(
                    last.bar, last.offset, last.length + chord.length, last.root, last.quality, last.bass, outside
                )
                continue
        found.append(chord)
    return tuple(found)
