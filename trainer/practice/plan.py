"""Today: what to play in the minutes the player has.

Warm-up first; due riffs in turns and not in one block (Carter & Grahn 2016; Stambaugh 2011), which can be switched off;
both guitars' parts, but never a lead and its harmony back to back at the end (Allen 2013); a hard bar alone before its
riff; a break of five minutes in every 25 to 30; at the end something that can be played. The same facts give the same
plan.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from trainer.practice.line import Line

TURN_MINUTES = 4
"""Switching every few minutes: one turn on a line."""
TURNS_EACH = 2
"""How often a line comes up when there is time: the second turn tells what stayed."""
HARD_BAR_MINUTES = 1
END_MINUTES = 3
BREAK_AFTER, BREAK_MINUTES = 25, 5
EASY_SHARE = 0.9
"""The ending is played at this share of the best clean tempo: it can be played."""
MOST_MINUTES = 240


class Kind(StrEnum):
    """What a block of the plan is for."""

    WARM_UP = "warm-up"
    HARD_BAR = "hard bar"
    RIFF = "riff"
    BREAK = "break"
    ENDING = "ending"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One line that could be played today: what the exercise and the record say of it."""

    line: Line
    start_bpm: float
    target_bpm: float
    due: date | None = None
    """When it is due by the spacing; None when it was never judged."""
    best_bpm: float = 0.0
    """0 when there is none."""
    clean_share: float | None = None
    hard_bar: int | None = None
    """A bar that stumbles (`hardest_bar`) or that is the most demanding; None when none stands out."""
    tempo_bpm: float | None = None
    """Where the player stands on the ladder; None when never."""
    wanted: bool = False
    """Whether a kept goal is set on it."""


@dataclass(frozen=True, slots=True)
class Block:
    """One block of the plan."""

    kind: Kind
    minutes: int
    line: Line | None = None
    """None in a break."""
    bar: int | None = None
    """The hard bar."""
    tempo_bpm: int | None = None
    """What to begin with."""


def plan(candidates: Sequence[Candidate], minutes: int, today: date, *, in_turns: bool = True) -> tuple[Block, ...]:
    """The blocks of today's practice, in order; their minutes add up to `minutes` at most.

    Args:
        candidates: every line the player could play, in any order.
        minutes: what the player has; under 5 it is one easy block.
        today: the day of practice.
        in_turns: False plays each line's turns in one block.
    """
    ranked = sorted(candidates, key=lambda candidate: _rank(candidate, today))
    if not ranked or minutes < 1:
        return ()
    minutes = min(minutes, MOST_MINUTES)
    easy = _easiest(ranked)
    if minutes < 5:
        return (_block(Kind.ENDING, minutes, easy),)
    warm = 5 if minutes >= 25 else 3 if minutes >= 12 else 2
    rest = BREAK_MINUTES * _breaks(minutes)
    end = END_MINUTES if minutes >= 12 else 1
    turns = _turns(ranked, minutes - warm - rest - end, in_turns)
    work = [block for candidate, length, first in turns for block in _turn(candidate, length, first)]
    ending = _ending(ranked, easy, work)
    blocks = [_block(Kind.WARM_UP, warm, easy), *work, _block(Kind.ENDING, end, ending)]
    return tuple(_with_breaks(blocks, _breaks(minutes)))


def hardest_bar(bars: Sequence[tuple[int, int, int, int]], least: int = 3) -> int | None:
    """The bar that was missed or blamed most (`reading.line_bars`), when that happened at least so often."""
    worst = max(bars, key=lambda bar: (bar[2] + bar[3], -bar[0]), default=None)
    return worst[0] if worst and worst[2] + worst[3] >= least else None


def _rank(candidate: Candidate, today: date) -> tuple[int, int, float, Line]:
    """Due before new before not yet due; the longest due first; wanted ones first among equals."""
    if candidate.due is None:
        group, days = 1, 0
    else:
        days = (candidate.due - today).days
        group = 0 if days <= 0 else 2
    share = 0.5 if candidate.clean_share is None else candidate.clean_share
    return group, days, share - candidate.wanted, candidate.line


def _easiest(ranked: Sequence[Candidate]) -> Candidate:
    """What can be played best: the highest clean share, and a best tempo near the target."""
    return max(ranked, key=lambda c: (c.best_bpm > 0, c.clean_share or 0.0, c.best_bpm / c.target_bpm, c.line))


def _ending(ranked: Sequence[Candidate], easy: Candidate, work: Sequence[Block]) -> Candidate:
    """The easiest line that is not the twin of what was just played."""
    before = work[-1].line if work else None
    fit = [c for c in ranked if before is None or not c.line.is_twin_of(before)]
    return easy if easy in fit else _easiest(fit)


def _breaks(minutes: int) -> int:
    """As few breaks as leave no more than about 28 minutes of play at a stretch; none in half an hour."""
    stretch = BREAK_AFTER + 3
    return 0 if minutes <= BREAK_AFTER + BREAK_MINUTES else -(-(minutes - stretch) // (stretch + BREAK_MINUTES))


def _turns(ranked: Sequence[Candidate], minutes: int, in_turns: bool) -> list[tuple[Candidate, int, bool]]:
    """Who has a turn: the line, how long, and whether it is its first one."""
    if minutes < 1:
        return []
    count = max(1, minutes // TURN_MINUTES)
    lines = _with_twins(ranked, -(-count // TURNS_EACH))
    if in_turns and len({c.line[:2] for c in lines}) > 1:
        order = _mixed(lines, count)
    else:  # one riff only: its parts meet once, early, and not turn by turn
        order = [c for c in _mixed(lines, len(lines)) for _ in range(-(-count // len(lines)))][:count]
    each, spare = divmod(minutes, count)
    return [(c, each + (i < spare), c not in order[:i]) for i, c in enumerate(order)]


def _mixed(lines: Sequence[Candidate], count: int) -> list[Candidate]:
    """So many turns, each on another riff than the one before where there is one, fewest turns first."""
    order: list[Candidate] = []
    for _ in range(count):
        before = order[-1].line if order else Line("", "", "")
        order.append(
            min(
                lines,
                key=lambda c: (
                    len(lines) == count and c in order,  # every line once
                    c.line.is_twin_of(before),
                    c.line[:2] == before[:2],
                    order.count(c),
                ),
            )
        )
    return order


def _with_twins(ranked: Sequence[Candidate], count: int) -> list[Candidate]:
    """The first `count` lines of the ranking, a riff's other parts drawn in beside the first one."""
    chosen: list[Candidate] = []
    for candidate in ranked:
        if candidate not in chosen:
            chosen.append(candidate)
            chosen.extend(c for c in ranked if c.line.is_twin_of(candidate.line) and c not in chosen)
    return chosen[:count]


def _turn(candidate: Candidate, minutes: int, first: bool) -> list[Block]:
    """A turn on a line, its hard bar first when it is the line's first turn."""
    block = _block(Kind.RIFF, minutes, candidate)
    if not first or candidate.hard_bar is None or minutes <= HARD_BAR_MINUTES:
        return [block]
    alone = replace(block, kind=Kind.HARD_BAR, minutes=HARD_BAR_MINUTES, bar=candidate.hard_bar)
    return [alone, replace(block, minutes=minutes - HARD_BAR_MINUTES)]


def _block(kind: Kind, minutes: int, candidate: Candidate) -> Block:
    known = candidate.tempo_bpm or candidate.best_bpm or candidate.start_bpm
    easy = EASY_SHARE * (candidate.best_bpm or candidate.start_bpm)
    slow = {Kind.WARM_UP: min(0.7 * known, candidate.start_bpm), Kind.ENDING: easy}
    return Block(kind, minutes, candidate.line, None, round(slow.get(kind, known)))


def _with_breaks(blocks: Sequence[Block], breaks: int) -> list[Block]:
    """The breaks at even distances, never between a hard bar and its riff."""
    stretch = sum(block.minutes for block in blocks) / (breaks + 1)
    answer: list[Block] = []
    played = had = 0
    for number, block in enumerate(blocks):
        tied = number > 0 and blocks[number - 1].kind is Kind.HARD_BAR
        span = block.minutes + (blocks[number + 1].minutes if block.kind is Kind.HARD_BAR else 0)
        if had < breaks and not tied and played + span / 2 > stretch * (had + 1):
            answer.append(Block(Kind.BREAK, BREAK_MINUTES))
            had += 1
        answer.append(block)
        played += block.minutes
    return answer
