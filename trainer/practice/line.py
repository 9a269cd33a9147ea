"""What is practised and recorded: one part of one riff of one exercise."""

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from trainer.music.riff import Riff


class Line(NamedTuple):
    """One player's line through one riff. Known by names, so a moved or renamed file keeps its record."""

    exercise: str
    """The exercise's id."""
    riff: str
    """The riff's heading; empty for the whole form."""
    part: str
    """The part's name, as "guitar 1"."""

    def is_twin_of(self, other: "Line") -> bool:
        """Whether the two are different parts of one riff: a lead and its harmony."""
        return self[:2] == other[:2] and self.part != other.part


def digest_of(riffs: Sequence[Riff]) -> str:
    """The digest of one riff, or of a form's: the same as long as the music is, whatever the prose says."""
    told = hashlib.sha256()
    for riff in riffs:
        told.update(repr(replace(riff, prose="", name="")).encode())
    return told.hexdigest()[:16]
