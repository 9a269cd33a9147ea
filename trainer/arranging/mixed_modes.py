"""Where one line mixes two modes: a degree that it plays in two forms."""

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.arranging.scale import borrowed, parent
from trainer.music.key import Key
from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.pitch import Name
from trainer.music.sounding import note_midi


@dataclass(frozen=True, slots=True)
class MixedDegree:
    """A degree that appears otherwise than the key has it, as a sibling mode has it."""

    degree: int
    """1 to 7."""
    own: Name
    """As the key has it."""
    other: Name
    mode: str
    """The mode on the same tonic that has the other form and is else the same."""
    own_bars: tuple[int, ...]
    """Bars in which the key's form is played, from 1; empty where only the other is."""
    other_bars: tuple[int, ...]

    @property
    def mixes(self) -> bool:
        """Whether both forms are played."""
        return bool(self.own_bars)


def mixed_degrees(parts: Sequence[TabPart], key: Key) -> tuple[MixedDegree, ...]:
    """The degrees that some parts play as a sibling mode has them, from the tonic up."""
    bars: dict[int, set[int]] = {}
    for part in parts:
        for number, bar in enumerate(part.bars, 1):
            for moment in bar:
                for note in moment.notes:
                    if note.touch is not Touch.DEAD:
                        bars.setdefault(note_midi(part.instrument, note) % 12, set()).add(number)
    found = []
    home = parent(key)
    for degree, own in enumerate(home.names, 1):
        for semitone, where in bars.items():
            other = borrowed(key, semitone)
            if other is not None and other[0].step == own.step:
                own_bars = tuple(sorted(bars.get(own.semitone, ())))
                found.append(MixedDegree(degree, own, other[0], other[1].mode, own_bars, tuple(sorted(where))))
    return tuple(found)
