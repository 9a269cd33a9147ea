"""What the record says: best tempo over time, clean share, streak, and where a line stalls. Pure functions.

The headline figure is the clean share: retention followed the share of complete passes that were right, not minutes or
repetitions (Duke, Simmons & Cash 2009, JRME 56:310).
"""

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import accumulate, pairwise
from typing import NamedTuple

from trainer.practice.reading import LineDay, LineTempo

STALL_DAYS = 6
"""House rule: so many days of practice without a worthwhile rise are a stall …"""
STALL_PASSES = 30
"""… when so many passes were judged on them."""
WORTHWHILE_PERCENT = 2.5
"""The smallest rise worth a rung (Drake & Botte 1993: 2-3 %)."""
STICKING_PASSES = 5
"""A tempo's clean share is told from so many judged passes on."""


class Streak(NamedTuple):
    """Days of practice in a row."""

    now: int
    """Up to today, or up to yesterday while today is young."""
    longest: int


class Stall(NamedTuple):
    """A line that does not get on."""

    since: date
    """The day of the best that was not bettered by a worthwhile step."""
    best_bpm: float
    days: int
    """Days of practice since."""
    passes: int
    """Judged passes since."""


def clean_share(clean: int, missed: int) -> float | None:
    """Clean passes per judged pass; None when none was judged."""
    return clean / (clean + missed) if clean + missed else None


def best_over_time(days: Iterable[LineDay]) -> tuple[tuple[date, float, float], ...]:
    """For every day with a clean pass: the day, its best tempo, and the best tempo so far."""
    best = [(day.day, day.best_bpm) for day in days if day.best_bpm]
    return tuple(
        (day, bpm, so_far) for (day, bpm), so_far in zip(best, accumulate((b for _, b in best), max), strict=True)
    )


def streak(days: Sequence[int], today: date) -> Streak:
    """The streak of days.

    Args:
        days: the days of practice as `date.toordinal`, oldest first (`reading.practised_days`).
        today: the day of practice it is now.
    """
    runs = [0]
    for before, day in pairwise((-9, *days)):
        runs.append(runs[-1] + 1 if day == before + 1 else 1)
    current = runs[-1] if days and days[-1] >= today.toordinal() - 1 else 0
    return Streak(current, max(runs))


def stall(days: Sequence[LineDay], target_bpm: float) -> Stall | None:
    """Whether the line stalls: no worthwhile rise for `STALL_DAYS` days of practice and `STALL_PASSES` judged passes.

    Args:
        days: the line's days, oldest first.
        target_bpm: a line at its target has arrived, and does not stall.
    """
    since: LineDay | None = None
    later: list[LineDay] = []
    for day in days:
        if since is None or day.best_bpm >= since.best_bpm * (1 + WORTHWHILE_PERCENT / 100):
            since, later = day, []
        else:
            later.append(day)
    passes = sum(day.clean + day.missed for day in later)
    best = max((day.best_bpm for day in days), default=0.0)
    if since is None or best >= target_bpm or len(later) < STALL_DAYS or passes < STALL_PASSES:
        return None
    return Stall(since.day, since.best_bpm, len(later), passes)


def sticking_tempo(tempos: Iterable[LineTempo]) -> int | None:
    """The slowest tempo at which fewer than half of the judged passes were clean; None when there is none."""
    sticking = (
        tempo.tempo_bpm
        for tempo in tempos
        if tempo.clean + tempo.missed >= STICKING_PASSES and tempo.clean < tempo.missed
    )
    return min(sticking, default=None)
