"""How each note of a line is answered: the distance asked for, its exceptions, and what the player's options change.

- A pedal answers every note with one pitch.
- Contrary motion mirrors the line in a note that is fixed at the start of each phrase (a phrase begins with the
  line's first note and after each rest): the first note stands at the distance, and where the line rises two degrees
  the answer falls two. Inside the key the mirror counts degrees, and a note outside the key is altered the other way;
  an exact distance makes the mirror count semitones.
- An answer outside the range asked for moves by octaves into it, its bend with it. Where no octave lies inside, it is
  told as out of range.
- An answer that clashes (`clash.clashes`) with a part or chord to be avoided gives way to the nearest distance in the
  same direction that does not clash and makes a third, fourth, fifth, sixth or octave with the line: one degree
  wider, one narrower, two wider, and so on. Clashes are looked for as long as the note lasts. Each such change is
  told; so is a clash for which nothing was found.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.arranging.clash import ChordNames, PartNotes, clashes, heard
from trainer.arranging.harmony_line import Answer
from trainer.arranging.harmony_pitch import answer, distance_steps
from trainer.arranging.scale import Scale, scale_of, spell
from trainer.music.interval import Distance, Interval
from trainer.music.key import Key
from trainer.music.note import Touch
from trainer.music.part import HarmonyPart, PedalNote, TabPart
from trainer.music.pitch import Name, Pitch
from trainer.music.sounding import note_midi

CHORD = "chord"
"""The word in `avoid` that stands for the chord names."""

_PLEASANT = frozenset({(2, "M"), (2, "m"), (5, "M"), (5, "m"), (3, "P"), (4, "P"), (0, "P")})
"""Intervals (steps within the octave, quality) that may replace one that clashes."""
_WIDEST = 9
"""Steps of the widest distance tried instead of one that clashes."""


@dataclass(frozen=True, slots=True)
class HarmonyChange:
    """A note of a harmony that does not stand at the distance asked for."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    line: Pitch
    asked: Pitch
    """The answer at the distance asked for."""
    played: Pitch
    """What is played instead; the same pitch where nothing better was found."""
    why: str
    """"clash": it would clash; "range": it moved by octaves."""


@dataclass(slots=True)
class Answers:
    """Chooses the answers of one harmony and keeps what it changed."""

    part: HarmonyPart
    key: Key
    starts: Sequence[Fraction]
    """Where each bar begins, in whole notes."""
    avoided: Sequence[PartNotes] = ()
    chords: ChordNames | None = None
    mirrors: dict[tuple[int, Fraction], Pitch] = field(default_factory=dict)
    """For contrary motion: at each moment the line's pitch that began the phrase."""
    changes: list[HarmonyChange] = field(default_factory=list)
    exceptions: dict[tuple[int, Fraction], Distance | PedalNote] = field(default_factory=dict)
    pedals: frozenset[tuple[int, Fraction]] = frozenset()
    """Where the line plays a pedal note (`harmony_line.pedal_places`)."""
    ends: dict[tuple[int, Fraction], Fraction] = field(default_factory=dict)
    """For each moment of the line where its last note ends, in whole notes from the riff's start."""

    def choose(self, scale: Scale, bar: int, offset: Fraction, start: Pitch) -> Answer:
        """How a note of the line is answered, its bends included."""
        own = self.exceptions.get((bar, offset)) if self.exceptions else None
        if own is None and (bar, offset) in self.pedals and _by_degrees(self.part.distance):
            return lambda pitch: pitch
        distance = own or self.part.distance
        if own is None and self.part.contrary and isinstance(distance, Distance):
            plain = mirror(self.mirrors[(bar, offset)], scale_of(self.key), scale, distance, self.key)
        else:
            plain = plain_answer(self._scale(scale, distance, start), distance)
        found = plain
        if own is None and (self.avoided or self.chords):
            found = self._without_clash(scale, bar, offset, start, plain)
        return found if self.part.within is None else self._within_range(bar, offset, start, found, self.part.within)

    def _scale(self, scale: Scale, distance: Distance | PedalNote, start: Pitch) -> Scale:
        """The scale a note is answered in: a fourth or fifth of a note that is not the key's own stays perfect."""
        chromatic = start.name.semitone not in {name.semitone for name in scale_of(self.key).names}
        is_even = isinstance(distance, Distance) and distance.exact is None and distance.steps % 7 in (3, 4)
        return scale_of(self.key) if chromatic and is_even else scale

    def _around(self, bar: int, offset: Fraction) -> tuple[frozenset[int], ...]:
        """What the avoided parts and the chord give at each place while a note lasts."""
        begin = self.starts[bar] + offset
        end = self.ends.get((bar, offset), begin)
        places = {begin, *(place for part in self.avoided for place in part.within(begin, end))}
        if self.chords:
            places |= {place for place in self.chords.places if begin < place < end}
        return tuple(heard(self.avoided, self.chords, place) for place in sorted(places))

    def _without_clash(self, scale: Scale, bar: int, offset: Fraction, start: Pitch, plain: Answer) -> Answer:
        around = self._around(bar, offset)

        def clashing(pitch: Pitch) -> bool:
            return any(clashes(pitch.midi % 12, tones) for tones in around)

        asked = plain(start)
        if not clashing(asked):
            return plain
        steps = asked.diatonic - start.diatonic
        sign = -1 if steps < 0 else 1
        sizes = sorted(range(2, _WIDEST + 1), key=lambda size: (abs(size - abs(steps)), -size))
        for size in sizes:
            other = Distance(size, above=sign > 0)
            played = answer(start, scale, other)
            up = Interval.between(start, played).upward
            if not clashing(played) and (up.steps % 7, up.quality) in _PLEASANT:
                self.changes.append(HarmonyChange(bar + 1, offset, start, asked, played, "clash"))
                return plain_answer(scale, other)
        self.changes.append(HarmonyChange(bar + 1, offset, start, asked, asked, "clash"))
        return plain

    def _within_range(
        self, bar: int, offset: Fraction, start: Pitch, plain: Answer, within: tuple[Pitch, Pitch]
    ) -> Answer:
        low, high = (pitch.midi for pitch in within)
        asked = plain(start)
        octaves = octaves_into(asked.midi, low, high)
        if not octaves:
            return plain
        played = Pitch(asked.name, asked.octave + octaves)
        self.changes.append(HarmonyChange(bar + 1, offset, start, asked, played, "range"))

        def moved(pitch: Pitch) -> Pitch:
            found = plain(pitch)
            return Pitch(found.name, found.octave + octaves)

        return moved


def _by_degrees(distance: Distance | PedalNote) -> bool:
    """Whether a distance counts degrees of the key and is no octave or unison."""
    return isinstance(distance, Distance) and distance.exact is None and distance.steps % 7 != 0


def octaves_into(midi: int, low: int, high: int) -> int:
    """By how many octaves a pitch must move to lie in a range; 0 where it does or where no octave lies inside."""
    octaves = -((midi - low) // 12) if midi < low else -((midi - high + 11) // 12) if midi > high else 0
    return octaves if low <= midi + 12 * octaves <= high else 0


def plain_answer(scale: Scale, distance: Distance | PedalNote) -> Answer:
    """The answer at a distance, by the rules of `harmony_pitch`."""
    if isinstance(distance, PedalNote):
        pitch = distance.pitch
        return lambda _: pitch
    asked = distance
    return lambda pitch: answer(pitch, scale, asked)


def mirror(first: Pitch, key_scale: Scale, scale: Scale, distance: Distance, key: Key) -> Answer:
    """The answer in contrary motion, from the pitch that began the phrase."""
    if distance.exact is not None:
        around = first.midi + distance.exact.above(first).midi
        return lambda pitch: spell(key, around - pitch.midi)
    axis = 2 * first.diatonic + distance_steps(distance)

    def answers(pitch: Pitch) -> Pitch:
        steps = axis - pitch.diatonic
        found = scale.at(steps)
        away = 1 if steps >= pitch.diatonic else -1
        while key_scale.allowed is not None and found.name.semitone not in key_scale.allowed:
            steps += away
            found = scale.at(steps)
        return Pitch(Name(found.name.step, found.name.alter - scale.alteration(pitch)), found.octave)

    return answers


def phrase_starts(line: TabPart, key: Key) -> dict[tuple[int, Fraction], Pitch]:
    """For each moment of a line the pitch that began its phrase: the highest of the first moment after a rest."""
    found = {}
    first: Pitch | None = None
    for number, bar in enumerate(line.bars):
        for moment in bar:
            pitched = [note_midi(line.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD]
            if moment.rest:
                first = None
            if first is None and pitched:
                first = spell(key, max(pitched))
            if first is not None:
                found[(number, moment.offset)] = first
    return found
