"""What the fretting hand does to the pitch of a sounding note (bend, release, slide, vibrato), as wheel values.

The pitch wheel's range is set explicitly (`RANGE` semitones, by registered parameter 0,0), so one wheel step is 0.3
cents and every bend lands within 0.15 cents of the written pitch. Times are house rules, bounded by the note's own
length: a bend takes a third of it and at most 150 ms, a release begins at half and takes a quarter, a slide takes its
last third and at most 70 ms, vibrato sets in after a quarter (at most 150 ms) and sways 5.5 times a second.

A finger can only pull a fretted string tighter, so its vibrato goes from the note up, to 60 cents; a bent string is let
down a little and pushed up again, so its vibrato goes down from the bend, 40 cents. A bend sets out and arrives gently.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi

RANGE = 24
"""Semitones that the wheel bends up and down. FluidSynth does not bend into the outermost 1/128 of the range: with 12 a
whole octave would be 10 cents flat; with 24 all steps up to 22 are exact, a slide over 24 frets is 20 cents short."""
REST = 8192
"""The wheel's value when nothing is bent."""
STEP_MS = 4
"""Milliseconds between two values of a moving wheel: finer than a block of sound is heard."""

_BEND_PART, _BEND_MS = 1 / 3, 150
_RELEASE_FROM, _RELEASE_PART = 1 / 2, 1 / 4
_SLIDE_PART, _SLIDE_MS = 1 / 3, 70
_VIBRATO_PART, _VIBRATO_MS = 1 / 4, 150
_VIBRATO_HZ, _FRETTED_VIBRATO, _BENT_VIBRATO = 5.5, 0.6, -0.4


def wheel(semitones: float) -> int:
    """The wheel's 14-bit value for so many semitones; at most `RANGE` either way."""
    return max(0, min(16383, REST + round(semitones * REST / RANGE)))


def _eased(part: float) -> float:
    """How far a bend has come after a part of its time, 0 to 1: it sets out and arrives gently."""
    return (1 - cos(pi * min(1.0, part))) / 2


@dataclass(frozen=True, slots=True)
class Gesture:
    """How the pitch of one note moves, in semitones from the note's key."""

    start: int = 0
    """Where it begins when it is slid into from nowhere: it is at its own pitch after the slide's time."""
    bend: int = 0
    """How far it is bent up."""
    release: int | None = None
    """Where the bend is let down to; None when it is held."""
    end: int = 0
    """Where it has slid to when the next note of its string begins; 0 when it does not slide."""
    vibrato: bool = False

    def values(self, length: int, rate: int) -> Iterator[tuple[int, int]]:
        """Frames after the note's start, and the wheel's value from there on; only where the value changes.

        Args:
            length: of the note, in frames; every value comes before its end.
            rate: frames a second.
        """
        step = max(1, rate * STEP_MS // 1000)
        last = wheel(self.start)
        if last != REST:
            yield 0, last
        places = sorted(
            {*range(step, length, step), *(place for place in self._landings(length, rate) if place < length)}
        )
        for place in places if self != _STILL else ():
            value = wheel(self.semitones(place, length, rate))
            if value != last:
                last = value
                yield place, value

    def _landings(self, length: int, rate: int) -> tuple[int, ...]:
        bent = min(int(length * _BEND_PART), rate * _BEND_MS // 1000)
        slid_in = min(int(length * _SLIDE_PART), rate * _SLIDE_MS // 1000)
        let_down = int(length * (_RELEASE_FROM + _RELEASE_PART))
        return (max(1, bent), max(1, slid_in), max(1, let_down), length - 1)

    def semitones(self, place: int, length: int, rate: int) -> float:
        """The pitch at a frame of the note, in semitones from its key."""
        bent, slid_in, let_down, last = self._landings(length, rate)
        pitch, bend = 0.0, 0.0
        if self.start and place < slid_in:
            pitch += self.start * (1 - place / slid_in)
        if self.bend or self.release is not None:
            bend = self.bend * _eased(place / bent)
            begin = int(length * _RELEASE_FROM)
            if self.release is not None and place > begin:
                bend += (self.release - self.bend) * _eased((place - begin) / max(1, let_down - begin))
            pitch += bend
        if self.end:
            span = max(1, min(int(length * _SLIDE_PART), rate * _SLIDE_MS // 1000))
            pitch += self.end * max(0.0, min(1.0, (place - (last - span)) / span))
        if self.vibrato:
            begin = min(int(length * _VIBRATO_PART), rate * _VIBRATO_MS // 1000)
            if self.bend:
                begin = max(begin, bent)
            if place > begin:
                height = max(0.0, min(1.0, bend / self.bend)) if self.bend else 0.0
                most = _FRETTED_VIBRATO + (_BENT_VIBRATO - _FRETTED_VIBRATO) * height
                pitch += most * (1 - cos(2 * pi * _VIBRATO_HZ * (place - begin) / rate)) / 2
        return pitch


_STILL = Gesture()
