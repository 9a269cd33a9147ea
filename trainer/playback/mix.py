"""Who is heard, how loud and from where. The click counts as a part called "click"."""

from collections.abc import Collection
from dataclasses import dataclass, replace

CLICK = "click"
"""The metronome's name among the parts of a mix and a layout."""


@dataclass(frozen=True, slots=True)
class Mix:
    """A setting of the mixer; parts it does not mention are heard as their patch and the exercise say.

    >>> mix = Mix().without("guitar 2").with_level("bass", -6)
    >>> mix.heard("guitar 2"), mix.level_db("bass"), mix.pan("bass")
    (False, -6, None)
    """

    unheard: frozenset[str] = frozenset()
    """Parts that are silent."""
    levels_db: tuple[tuple[str, float], ...] = ()
    """Added to the level of a part, in dB; -60 to 12."""
    pans: tuple[tuple[str, float], ...] = ()
    """-1 (left) to 1 (right), instead of a part's own."""

    def heard(self, part: str) -> bool:
        """Whether a part is heard."""
        return part not in self.unheard

    def level_db(self, part: str) -> float:
        """What is added to a part's level."""
        return dict(self.levels_db).get(part, 0.0)

    def pan(self, part: str) -> float | None:
        """Where a part is put; None where its own place stands."""
        return dict(self.pans).get(part)

    def only(self, heard: Collection[str], parts: Collection[str]) -> "Mix":
        """The same mix with none of `parts` heard but those in `heard`."""
        return replace(self, unheard=frozenset(parts) - frozenset(heard))

    def without(self, *parts: str) -> "Mix":
        """The same mix with these parts silent too."""
        return replace(self, unheard=self.unheard | frozenset(parts))

    def with_(self, *parts: str) -> "Mix":
        """The same mix with these parts heard."""
        return replace(self, unheard=self.unheard - frozenset(parts))

    def with_level(self, part: str, level_db: float) -> "Mix":
        """The same mix with a part at a level, brought into -60 to 12 dB."""
        levels = {**dict(self.levels_db), part: max(-60.0, min(12.0, level_db))}
        return replace(self, levels_db=tuple(levels.items()))

    def with_pan(self, part: str, pan: float) -> "Mix":
        """The same mix with a part at a place, brought into -1 to 1."""
        pans = {**dict(self.pans), part: max(-1.0, min(1.0, pan))}
        return replace(self, pans=tuple(pans.items()))
