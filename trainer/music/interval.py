"""Intervals: how far one pitch lies from another, by name and by number of semitones."""

from dataclasses import dataclass

from trainer.music.pitch import STEP_SEMITONES, Name, Pitch

NUMBER_NAMES = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave", "ninth", "tenth")
"""Names of generic intervals; the index is the number of steps."""

QUALITY_NAMES = {"P": "perfect", "M": "major", "m": "minor", "A": "augmented", "d": "diminished"}

_PERFECT = frozenset({0, 3, 4})
"""Steps within the octave whose intervals are perfect: unison (and octave), fourth, fifth."""


@dataclass(frozen=True, slots=True, order=True)
class Interval:
    """A spelled interval; both numbers are negative when the second pitch lies below the first.

    >>> Interval.between(Pitch.parse("A2"), Pitch.parse("C3"))
    Interval(steps=2, semitones=3)
    """

    steps: int
    """Generic size: 0 unison, 2 third, 7 octave."""
    semitones: int

    @classmethod
    def between(cls, low: Pitch, high: Pitch) -> "Interval":
        """The interval from one pitch to another."""
        return cls(high.diatonic - low.diatonic, high.midi - low.midi)

    @property
    def upward(self) -> "Interval":
        """The same size, counted upward."""
        down = self.steps < 0 or (self.steps == 0 and self.semitones < 0)
        return Interval(-self.steps, -self.semitones) if down else self

    @property
    def quality(self) -> str:
        """P, M, m, or as many A or d as the interval is altered by."""
        up = self.upward
        octaves, step = divmod(up.steps, 7)
        off = up.semitones - 12 * octaves - STEP_SEMITONES[step]
        if step in _PERFECT:
            return "P" if off == 0 else "A" * off if off > 0 else "d" * -off
        if off >= 0:
            return "M" if off == 0 else "A" * off
        return "m" if off == -1 else "d" * (-off - 1)

    @property
    def number(self) -> int:
        """The number musicians say: 1 for a unison, 3 for a third, 8 for an octave, 10 for a tenth."""
        return abs(self.steps) + 1

    def __str__(self) -> str:
        """The short name: "m3", "P5", "A4"."""
        return f"{self.quality}{self.number}"

    def above(self, pitch: Pitch) -> Pitch:
        """The pitch this interval away from `pitch` (below it when the interval is negative)."""
        diatonic = pitch.diatonic + self.steps
        octave, step = divmod(diatonic, 7)
        natural = Pitch(Name(step), octave)
        return Pitch(Name(step, pitch.midi + self.semitones - natural.midi), octave)


@dataclass(frozen=True, slots=True)
class Distance:
    """How a harmony is asked for: a generic size that moves inside the key, or an exact one."""

    steps: int
    """Generic size, positive: 2 for a third, 7 for an octave."""
    quality: str = ""
    """Empty: inside the key. Otherwise P, M, m, A or d: the exact interval is kept."""
    above: bool = True

    @classmethod
    def parse(cls, text: str) -> "Distance":
        """Read "third above", "perfect fourth below" or "octave above". Raises ValueError for anything else."""
        words = text.split()
        qualities = {name: short for short, name in QUALITY_NAMES.items()}
        quality = qualities[words.pop(0)] if words and words[0] in qualities else ""
        if len(words) != 2 or words[0] not in NUMBER_NAMES or words[1] not in ("above", "below"):
            raise ValueError(text)
        steps = NUMBER_NAMES.index(words[0])
        wrong = {"P": steps % 7 not in _PERFECT, "M": steps % 7 in _PERFECT, "m": steps % 7 in _PERFECT}
        if wrong.get(quality, False):
            raise ValueError(text)
        return cls(steps, quality, words[1] == "above")

    @property
    def exact(self) -> Interval | None:
        """The interval with its direction when it is exact, None when it moves inside the key."""
        if not self.quality:
            return None
        octaves, step = divmod(self.steps, 7)
        size = 12 * octaves + STEP_SEMITONES[step]
        shift = {"P": 0, "M": 0, "m": -1, "A": 1, "d": -1 if step in _PERFECT else -2}[self.quality]
        sign = 1 if self.above else -1
        return Interval(sign * self.steps, sign * (size + shift))

    def __str__(self) -> str:
        """The words it is read from."""
        quality = f"{QUALITY_NAMES[self.quality]} " if self.quality else ""
        return f"{quality}{NUMBER_NAMES[self.steps]} {'above' if self.above else 'below'}"
