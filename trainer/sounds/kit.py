"""Which MIDI key and velocity sound a piece of the drum kit, or a click."""

from dataclasses import dataclass

from trainer.sounds.dynamics import Weight

KIT_PIECES = ("kick", "snare", "hat", "open", "ride", "bell", "crash", "tom 1", "tom 2", "tom 3", "tom 4")
"""The drum rows of a tab, and the pieces a drum patch must give keys for."""

CLICK_PIECES = ("click",)
"""The one piece of a click patch; its accent may have a key of its own."""


@dataclass(frozen=True, slots=True)
class KitPiece:
    """One piece of a kit: its key, and another for accented or ghosted strokes where it has them."""

    name: str
    key: int
    """0 to 127, by the General MIDI percussion map."""
    accent: int | None = None
    ghost: int | None = None

    def key_for(self, weight: Weight) -> int:
        """The key that sounds a stroke of this weight."""
        if weight in (Weight.ACCENT, Weight.STRONG):
            return self.key if self.accent is None else self.accent
        if weight is Weight.GHOST:
            return self.key if self.ghost is None else self.ghost
        return self.key


@dataclass(frozen=True, slots=True)
class Kit:
    """The pieces of a kit and the velocities of its strokes."""

    pieces: tuple[KitPiece, ...]
    velocities: tuple[tuple[Weight, int], ...]
    """One for each `Weight`, 1 to 127."""

    def key(self, piece: str, weight: Weight = Weight.PLAIN) -> tuple[int, int]:
        """The MIDI key and the velocity of one stroke. Raises KeyError for a piece the kit has not."""
        keys = {each.name: each for each in self.pieces}
        return keys[piece].key_for(weight), dict(self.velocities)[weight]
