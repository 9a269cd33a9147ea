"""What a pass was: clean, missed or unjudged, who says so, and why.

The player says it with one key, or a take says it with reasons and measured figures. Feedback is sparse and comes after
the pass (Wulf & Mornell 2008), so a verdict holds three sentences at most.
"""

from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any

from trainer.values import sparse

MOST_MEASURED = 1e9
"""No figure is larger: 1e9 ms are eleven days."""
MOST_REASONS = 3
"""How many sentences a verdict may hold."""


class Outcome(StrEnum):
    """How a pass went. An unjudged pass counts for nothing on the ladder."""

    CLEAN = "clean"
    MISSED = "missed"
    UNJUDGED = "unjudged"


class Judge(StrEnum):
    """Who says how a pass went."""

    PLAYER = "player"
    TAKE = "take"


@dataclass(frozen=True, slots=True)
class Reason:
    """One sentence of a verdict and the place it speaks of."""

    sentence: str
    """A plain sentence with its full stop."""
    bar: int | None = None
    """The riff's bar, counted from 1; None when the whole pass is meant."""
    count: str = ""
    """The count as the player says it ("3", "2 &", "4 a"); empty when no single count is meant."""
    stroke: str = ""
    """The stroke or place in the figure ("second sixteenth", "up stroke"); empty when none is meant."""

    def __post_init__(self) -> None:
        """Raise ValueError for a bar that cannot be."""
        if self.bar is not None and not (isinstance(self.bar, int) and 1 <= self.bar <= 100_000):
            raise ValueError(f"{self.bar!r} is no bar")


@dataclass(frozen=True, slots=True)
class Measured:
    """What a take measured over one pass; a figure is None when it could not be told."""

    bias_ms: float | None = None
    """Median deviation from the click, early below zero: a habit, not an error (Fujii et al. 2011)."""
    spread_ms: float | None = None
    """Spread of the deviations around their median (a standard deviation, robustly estimated)."""
    drift_ms: float | None = None
    """Deviation gained from the pass's first note to its last, late above zero."""
    gallop_ratio: float | None = None
    """Long to short of the gallop; 2.0 as written (a triplet gallop's is halved, so that all compare)."""
    gallop_low: float | None = None
    """Lower end of the ratio's 95 % interval."""
    gallop_high: float | None = None
    """Upper end of the ratio's 95 % interval."""
    clean_share: float | None = None
    """Share of the written notes that were clean, 0 to 1."""
    notes: int = 0
    """Notes written in the bars that were judged."""
    matched: int = 0
    """Written notes that were heard."""
    missed: int = 0
    """Written notes that were not heard."""
    wrong: int = 0
    """Notes heard at the wrong pitch."""
    extra: int = 0
    """Notes heard that are not written."""

    def __post_init__(self) -> None:
        """Raise ValueError for what is no number, a share outside 0 to 1, a negative count, or half an interval."""
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and not (isinstance(value, int | float) and abs(value) <= MOST_MEASURED):
                raise ValueError(f"{field.name} is {value!r}, which nothing measures")
        if self.clean_share is not None and not 0 <= self.clean_share <= 1:
            raise ValueError(f"clean_share is {self.clean_share}, not within 0 to 1")
        if self.spread_ms is not None and self.spread_ms < 0:
            raise ValueError(f"spread_ms is {self.spread_ms}, below zero")
        if min(self.notes, self.matched, self.missed, self.wrong, self.extra) < 0:
            raise ValueError("a number of notes is below zero")
        if (self.gallop_low is None) != (self.gallop_high is None):
            raise ValueError("the gallop's interval has one end only")


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one pass went, who says so, why, and what was measured.

    >>> late = Verdict(Outcome.MISSED, Judge.TAKE, (Reason("Bar 2 is late on 3.", bar=2, count="3"),))
    >>> late.as_dict()["reasons"]
    [{'sentence': 'Bar 2 is late on 3.', 'bar': 2, 'count': '3'}]
    """

    outcome: Outcome
    judge: Judge = Judge.PLAYER
    """Who said it; for an unjudged pass, who did not: a take that could not be followed, or a silent player."""
    reasons: tuple[Reason, ...] = ()
    """At most three, in the order of what to fix first."""
    measured: Measured | None = None
    """None when no take was heard."""

    def __post_init__(self) -> None:
        """Raise ValueError when there are more than three reasons."""
        if len(self.reasons) > MOST_REASONS:
            raise ValueError(f"a verdict holds {MOST_REASONS} reasons at most, not {len(self.reasons)}")

    @property
    def counts(self) -> bool:
        """Whether the pass was judged at all."""
        return self.outcome is not Outcome.UNJUDGED

    def as_dict(self) -> dict[str, Any]:
        """The verdict as plain values for JSON; what is empty is left out."""
        return {"outcome": str(self.outcome), "judge": str(self.judge)} | sparse(self)


CLEAN = Verdict(Outcome.CLEAN)
"""The player says: clean."""
MISSED = Verdict(Outcome.MISSED)
"""The player says: missed."""
UNJUDGED = Verdict(Outcome.UNJUDGED)
"""Nobody says anything."""


class Decides(StrEnum):
    """Whose word counts on the ladder."""

    KEY = "key"
    TAKE = "take"
    BOTH = "both"


def decided(decides: Decides, said: Outcome, heard: Verdict | None) -> Verdict:
    """The verdict on a pass; whatever was measured stays with it, whoever decides.

    Args:
        decides: whose word counts.
        said: what the player said; unjudged where nothing was said.
        heard: what the take says; None while there is no take, or for good.

    Returns:
        For `BOTH`: missed as soon as one says so, clean once both do, unjudged until then.
    """
    measured = heard.measured if heard is not None else None
    if decides is Decides.KEY:
        return Verdict(said, Judge.PLAYER, measured=measured)
    if decides is Decides.TAKE:
        return heard if heard is not None else Verdict(Outcome.UNJUDGED, Judge.TAKE)
    words = {said, heard.outcome if heard is not None else Outcome.UNJUDGED}
    reasons = heard.reasons if heard is not None else ()
    outcome = Outcome.MISSED if Outcome.MISSED in words else words.pop() if len(words) == 1 else Outcome.UNJUDGED
    judge = Judge.TAKE if heard is not None and heard.counts else Judge.PLAYER
    return Verdict(outcome, judge, reasons, measured)
