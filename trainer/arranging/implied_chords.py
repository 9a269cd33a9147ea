"""The chords that bass and guitars imply together, beat by beat, neighbours of one name joined.

For every beat the pitch classes that sound are weighed by how long they sound in it, the lowest one twice. Each chord
(root and quality of `chord_name.QUALITIES`) gains the weight of its notes that sound and loses that of notes outside
it, and a little for each of its notes that is missing, more where the key has not that note; a root in the bass counts
for it. Where only one pitch class sounds there is no chord but a note. House rules; a chord name that is written stands
as it is.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

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
    notes = sorted((note for part in parts for note in pitched(part, riff)), key=lambda note: note.at)
    low = low_notes(parts)
    bass = pitched(low, riff) if low else ()
    found: list[ImpliedChord] = []
    longest = max((note.length for note in notes), default=Fraction(0))
    places = [note.at for note in notes]
    for bar, (start, meter) in enumerate(zip(riff.bar_starts, riff.meters, strict=False), 1):
        offset = Fraction(0)
        while offset < meter.length:
            length = min(meter.pulse, meter.length - offset)
            begin, end = start + offset, start + offset + length
            near = notes[bisect_right(places, begin - longest) : bisect_right(places, end)]
            chord = _chord(_weights(near, begin, end), _lowest(bass, begin, end), riff.key)
            if chord is not None:
                found.append(ImpliedChord(bar, offset, length, *chord))
            offset += meter.pulse
    return _joined(found, riff)


def _weights(notes: Sequence[SoundingNote], begin: Fraction, end: Fraction) -> dict[int, Fraction]:
    weights: dict[int, Fraction] = {}
    for note in notes:
        inside = min(note.end, end) - max(note.at, begin)
        if inside > 0:
            weights[note.midi % 12] = weights.get(note.midi % 12, Fraction(0)) + inside
    return weights


def _lowest(bass: Sequence[SoundingNote], begin: Fraction, end: Fraction) -> int | None:
    heard = [note for note in bass if note.at < end and note.end > begin]
    return min((note.midi for note in heard), default=None)


def _chord(weights: dict[int, Fraction], bass: int | None, key: Key) -> tuple[Name, str, Name, tuple[Name, ...]] | None:
    if not weights:
        return None
    low = (bass if bass is not None else max(weights, key=lambda semitone: weights[semitone])) % 12
    if low in weights:
        weights = weights | {low: 2 * weights[low]}
    total = sum(weights.values())
    heard = {semitone for semitone, weight in weights.items() if weight >= PASSING * total}
    if len(heard) == 1:
        (only,) = heard
        return _named(key, only, NOTE, low if low in heard else only, weights)
    scores = []
    for root in range(12):
        for rank, (quality, shape) in enumerate(QUALITIES.items()):
            tones = {(root + tone) % 12 for tone in shape}
            gain = sum(weight if semitone in tones else -weight for semitone, weight in weights.items()) / total
            missing = tones - heard
            strange = sum(semitone not in key.semitones for semitone in missing)
            score = (
                float(gain)
                - NOT_IN_KEY * strange
                - MISSING * len(missing)
                + BASS_ROOT * (root == low)
                - PLAIN.get(quality, ORNATE)
            )
            scores.append((-round(score, 9), rank, root, quality))
    _, _, root, quality = min(scores)
    return _named(key, root, quality, low, weights)


def _named(
    key: Key, root: int, quality: str, bass: int, weights: dict[int, Fraction]
) -> tuple[Name, str, Name, tuple[Name, ...]]:
    tones = {(root + tone) % 12 for tone in QUALITIES.get(quality, (0,))}
    outside = tuple(spell(key, semitone).name for semitone in sorted(weights) if semitone not in tones)
    return spell(key, root).name, quality, spell(key, bass).name, outside


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
