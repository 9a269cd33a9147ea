"""What is to be played and how: bars, tempo, passes, count-in, click, mix."""

from dataclasses import dataclass, field
from fractions import Fraction

from trainer.playback.click_track import SilentBars
from trainer.playback.mix import Mix
from trainer.playback.piece import Loop, Piece
from trainer.sounds.click_pattern import ClickPattern

MOST_COUNT_IN = 4
"""Bars of count-in that can be asked for."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How a transport plays; `Transport.change` takes another one while it plays, all but `human_seed`.

    >>> from dataclasses import replace
    >>> plan = Plan(Loop(0, 3), share=Fraction(3, 5), passes=None, count_in=1)
    >>> replace(plan, share=Fraction(4, 5)).loop.bars
    4
    """

    loop: Loop
    """The bars of a pass."""
    share: Fraction = Fraction(1)
    """The share of the target tempo, over 0."""
    passes: int | None = 1
    """How often the loop is played; None: until it is stopped."""
    count_in: int = 0
    """Bars counted in before the first pass, 0 to 4, in the meter and at the tempo of the loop's first bar."""
    click: ClickPattern | None = None
    """None: no click (the count-in still clicks)."""
    silent_bars: SilentBars | None = None
    mix: Mix = field(default_factory=Mix)
    human_seed: int | None = None
    """Human differences between the guitars, the same for the same seed; None: none."""

    def __post_init__(self) -> None:
        if self.share <= 0:
            raise ValueError("a tempo must be over 0")
        if self.passes is not None and self.passes < 1:
            raise ValueError("at least one pass is played")
        if not 0 <= self.count_in <= MOST_COUNT_IN:
            raise ValueError(f"a count-in has 0 to {MOST_COUNT_IN} bars")

    def within(self, piece: Piece) -> "Plan":
        """This plan. Raises ValueError when its loop has bars that a piece has not."""
        if self.loop.last >= len(piece.bars):
            raise ValueError(f"the piece has only {len(piece.bars)} bars")
        return self

    @classmethod
    def once(cls, piece: Piece) -> "Plan":
        """All bars of a piece, once, at the target tempo, without click or count-in."""
        return cls(piece.whole)
