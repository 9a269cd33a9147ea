"""How late is late: the bands that a verdict is given by, adjustable by the player.

A displacement is just noticed at 6 ms below 240 ms between onsets and at 2.5 % above (Friberg & Sundberg 1995); in a
full groove at about 20 ms (drums) to 35 ms (guitar, bass). Steady deviations under 6 ms are never penalised
(Fujii et al. 2011). Below 100 to 125 ms between onsets single strokes can no longer be synchronised (Repp 2003):
they are judged by group.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bands:
    """Limits in milliseconds, except where said.

    >>> bands = Bands()
    >>> [bands.band(late_ms, between_s=0.25) for late_ms in (5, -18, 30, 45, 80)]
    [0, 1, 2, 3, 4]
    """

    noticed_ms: float = 6.0
    noticed_share: float = 0.025
    """Of the time between onsets, where that is more than `noticed_ms`."""
    good_ms: float = 20.0
    fair_ms: float = 35.0
    poor_ms: float = 50.0
    """A stroke farther off than this counts as missed its place."""
    clean_spread_ms: float = 20.0
    """A clean pass is no looser than this (the standard deviation that listeners still prefer)."""
    stray_share: float = 0.0
    """Share of the strokes of a clean pass that may be farther off than `fair_ms`."""
    group_s: float = 0.110
    """Strokes closer together than this are judged by group: the middle of the 100 to 125 ms of the source."""
    least_followed: float = 0.55
    """Share of the strokes that must be matched for a verdict."""
    least_agreed: float = 0.5
    """Share of the matched strokes that must sound as written for a verdict."""
    least_right: float = 0.65
    """Share of the judged strokes that must sound as written and within `wildest_ms` of their neighbours: on a riff
    of few pitches, half of the notes agree by chance with a take at another tempo. House rule."""
    least_clear: float = 0.45
    """Salience of the matched notes below which what was heard is noise: noise reaches 0.3, guitars begin at 0.8."""
    wildest_ms: float = 60.0
    """Spread beyond which matches are chance."""

    def __post_init__(self) -> None:
        if not 0 < self.noticed_ms <= self.good_ms <= self.fair_ms <= self.poor_ms:
            raise ValueError("Bands grow: noticed, good, fair, poor, all over 0.")
        if not (0 <= self.stray_share <= 1 and 0 < self.least_followed <= 1 and 0 <= self.least_agreed <= 1):
            raise ValueError("Shares lie between 0 and 1.")

    def noticed(self, between_s: float) -> float:
        """The displacement just noticed for strokes so many seconds apart, in milliseconds."""
        return max(self.noticed_ms, self.noticed_share * between_s * 1000)

    def band(self, deviation_ms: float, between_s: float) -> int:
        """0 not noticed, 1 good, 2 fair, 3 poor, 4 beyond."""
        off = abs(deviation_ms)
        edges = (self.noticed(between_s), self.good_ms, self.fair_ms, self.poor_ms)
        return sum(off > edge for edge in edges)
