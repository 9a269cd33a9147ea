"""Chord names: from "F#m7" to its notes, and from notes to the name that a musician would write over them."""

import re
from collections.abc import Collection
from functools import lru_cache

from trainer.music.pitch import Name

QUALITIES: dict[str, tuple[int, ...]] = {
    "5": (0, 7),
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "dim": (0, 3, 6),
    "aug": (0, 4, 8),
    "sus4": (0, 5, 7),
    "sus2": (0, 2, 7),
    "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9),
    "7": (0, 4, 7, 10),
    "maj7": (0, 4, 7, 11),
    "m7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
    "add9": (0, 2, 4, 7),
    "madd9": (0, 2, 3, 7),
}
"""Semitones above the root, by what is written after it; in the order in which a name is looked for."""

_NAME = re.compile(r"([A-G](?:##|#|bb|b)?)([^/]*)(?:/([A-G](?:##|#|bb|b)?))?")


@lru_cache(maxsize=1024)
def read_chord(name: str) -> tuple[Name, str, Name] | None:
    """Root, quality and bass note of a chord name; None where the name is not understood."""
    found = _NAME.fullmatch(name.strip())
    if not found or found[2] not in QUALITIES:
        return None
    root = Name.parse(found[1])
    return root, found[2], Name.parse(found[3]) if found[3] else root


@lru_cache(maxsize=1024)
def chord_tones(name: str) -> frozenset[int] | None:
    """The pitch classes of a chord name, its bass note included; None where the name is not understood."""
    read = read_chord(name)
    if read is None:
        return None
    root, quality, bass = read
    return frozenset((root.semitone + tone) % 12 for tone in QUALITIES[quality]) | {bass.semitone}


@lru_cache(maxsize=4096)
def name_chord(tones: Collection[int], bass: int) -> tuple[int, str] | None:
    """The root (0 to 11) and quality whose notes are exactly some pitch classes.

    Where several fit, the bass note is the root, then the quality that stands first in the table.

    Args:
        tones: a frozenset of pitch classes.
        bass: the lowest one.
    """
    fitting = [
        (root != bass % 12, rank, root, quality)
        for root in tones
        for rank, (quality, shape) in enumerate(QUALITIES.items())
        if {(root + tone) % 12 for tone in shape} == tones
    ]
    if not fitting:
        return None
    *_, root, quality = min(fitting)
    return root, quality
