"""The strokes of a take that were not as written, in a few words each: what is kept of them beside the take."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.performance import PlayedStroke

EARLY, LATE, LOST, OTHER = "early", "late", "not heard", "another pitch"
"""How the words of a mark end."""
MOST_KEPT = 200
"""Marks that are kept with a take; nobody reads more, and ten thousand takes are listed quickly."""


def off_strokes(strokes: "Sequence[PlayedStroke]", bands: "Bands", habit_ms: float = 0.0) -> tuple[str, ...]:
    """Every stroke that anyone would notice: its place, and how it was.

    Args:
        strokes: those that were judged.
        bands: what is too little to be noticed.
        habit_ms: what is steady in them, which is no fault of any stroke; late above zero.
    """
    lines = []
    for item in strokes:
        if item.deviation_ms is None:
            how = LOST
        elif item.wrong:
            how = OTHER
        else:
            late = item.deviation_ms - habit_ms
            if abs(late) <= bands.noticed(float(item.stroke.length)) or not round(late):
                continue
            how = f"{abs(round(late))} ms {EARLY if late < 0 else LATE}"
        lines.append(f"{item.stroke.place}: {how}")
    return tuple(lines)


def habit_of(judgement: "Judgement") -> float:
    """What is steady in a take, in milliseconds; 0 where that is taken out of the deviations already."""
    told = judgement.timing
    return told.bias.value if told is not None and told.bias_known else 0.0


def kept_marks(judgement: "Judgement", bands: "Bands") -> tuple[str, ...]:
    """What is kept of a judgement's strokes; nothing of a take that could not be followed."""
    performance = judgement.performance
    if performance is None or not judgement.verdict.counts:
        return ()
    return off_strokes(performance.judged, bands, habit_of(judgement))[:MOST_KEPT]
