"""The seven notes a harmony moves on: a key's scale by step, and the altered degrees that a line brings into it.

Pentatonic keys lack two degrees; their parent fills them: the minor pentatonic's is aeolian, the major one's ionian.
"""

from dataclasses import dataclass
from functools import lru_cache

from trainer.music.key import MODES, Key
from trainer.music.pitch import Name, Pitch

PARENTS = {"minor pentatonic": "aeolian", "major pentatonic": "ionian"}
"""The seven-note mode that names the degrees a pentatonic scale leaves out."""


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """Seven names, one for each step, and which pitch classes a harmony may use.

    `scale_of` and `altered` give each scale once, so scales are compared (and hashed, often) by identity.
    """

    names: tuple[Name, ...]
    """Indexed by step, 0 (C) to 6 (B)."""
    allowed: frozenset[int] | None = None
    """Pitch classes of a pentatonic scale; None where all seven notes may be used."""

    def alteration(self, pitch: Pitch) -> int:
        """Semitones by which a pitch is raised (or lowered, negative) from the scale's note on its step."""
        return pitch.name.alter - self.names[pitch.name.step].alter

    def at(self, diatonic: int) -> Pitch:
        """The scale's note so many steps above C0."""
        return Pitch(self.names[diatonic % 7], diatonic // 7)

    def altered(self, names: frozenset[Name]) -> "Scale":
        """The same scale with the degrees on some names' steps replaced by them."""
        return _altered(self, names)


@lru_cache(maxsize=4096)
def _altered(scale: Scale, names: frozenset[Name]) -> Scale:
    new = {name.step: name for name in names}
    return Scale(tuple(new.get(own.step, own) for own in scale.names), scale.allowed)


@lru_cache(maxsize=512)
def parent(key: Key) -> Key:
    """The seven-note key that a key's degrees belong to: itself, or a pentatonic's parent."""
    return Key(key.tonic, PARENTS.get(key.mode, key.mode))


@lru_cache(maxsize=512)
def scale_of(key: Key) -> Scale:
    """A key's scale by step."""
    names = tuple(sorted(parent(key).names))
    return Scale(names, frozenset(key.semitones) if key.mode in PARENTS else None)


@lru_cache(maxsize=512)
def siblings(key: Key) -> tuple[Key, ...]:
    """The seven-note modes on the same tonic that differ from a key in one degree, each once, in the table's order.

    Aeolian's are dorian (its sixth), phrygian (its second) and harmonic minor (its seventh).
    """
    own = frozenset(parent(key).semitones)
    found: dict[frozenset[int], Key] = {}
    for mode, degrees in MODES.items():
        other = Key(key.tonic, mode)
        notes = frozenset(other.semitones)
        if len(degrees) == 7 and len(notes - own) == 1:
            found.setdefault(notes, other)
    return tuple(found.values())


@lru_cache(maxsize=4096)
def borrowed(key: Key, semitone: int) -> tuple[Name, Key] | None:
    """The name of a pitch class outside the key that a sibling mode contains, and that mode; None where none does."""
    if semitone in parent(key).semitones:
        return None
    for other in siblings(key):
        for name in other.names:
            if name.semitone == semitone:
                return name, other
    return None


@lru_cache(maxsize=4096)
def spell(key: Key, midi: int) -> Pitch:
    """The spelled pitch of a MIDI key: as the key, its parent or a sibling mode names it, else as `Key.spell` does.

    The major third above the tonic of a minor key is its raised third, in keys of flats too: F# in D aeolian.
    """
    found = borrowed(key, midi % 12)
    name = found[0] if found else None
    third = parent(key).names[2]
    if name is None and midi % 12 == (key.tonic.semitone + 4) % 12 and (third.semitone - key.tonic.semitone) % 12 == 3:
        name = Name(third.step, third.alter + 1)
    if name is None:
        return parent(key).spell(midi)
    return Pitch(name, (midi - Pitch(name, -1).midi) // 12 - 1)
