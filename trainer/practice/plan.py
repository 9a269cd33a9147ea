"""Today: what to play in the minutes the player has.

Warm-up first, then what a teacher asks for; due riffs in turns and not in one block (Carter & Grahn 2016; Stambaugh
2011), which can be switched off;
both guitars' parts, but never a lead and its harmony back to back at the end (Allen 2013); a hard bar alone before its
riff; a break of five minutes in every 25 to 30; at the end something that can be played. The same facts give the same
plan.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any, NamedTuple

from trainer.music.exercise import Exercise
from trainer.music.part import DrumPart
from trainer.music.riff import Riff
from trainer.practice import reading
from trainer.practice.assigned import KeptAssignment
from trainer.practice.goals import GoalState, goals
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.passes import MOST_BPM
from trainer.practice.reading import ExerciseRecord

TURN_MINUTES = 4
"""Switching every few minutes: one turn on a line."""
TURNS_EACH = 2
"""How often a line comes up when there is time: the second turn tells what stayed."""
HARD_BAR_MINUTES = 1
LONGEST_TURN_MINUTES = 20
"""More minutes that a teacher asks for are played in several turns."""
END_MINUTES = 3
BREAK_AFTER, BREAK_MINUTES = 25, 5
EASY_SHARE = 0.9
"""The ending is played at this share of the best clean tempo: it can be played."""
MOST_MINUTES = 240


class Purpose(StrEnum):
    """What a block of the plan is for."""

    WARM_UP = "warm-up"
    ASSIGNED = "assigned"
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


class AskedFor(NamedTuple):
    """What a teacher asks for in a block."""

    teacher: str
    tempo_bpm: float
    """The tempo to reach."""
    by: date | None
    late: bool
    """Whether that day was over when the plan was made."""
    note: str
    """The teacher's words."""


class PlanBlock(NamedTuple):
    """One block of the plan."""

    kind: Purpose
    minutes: int
    line: Line | None = None
    """None in a break."""
    bar: int | None = None
    """The hard bar, or the first bar that a teacher asks for; None for the whole riff."""
    tempo_bpm: int | None = None
    """What to begin with."""
    last_bar: int | None = None
    """The last bar, where there are several."""
    asked: AskedFor | None = None
    """What the teacher asks for; None where the plan is the program's own."""

    @property
    def bar_words(self) -> str:
        """Its bars in words; empty for the whole riff."""
        if self.bar is None:
            return ""
        return f"bar {self.bar}" if self.last_bar in {None, self.bar} else f"bars {self.bar}-{self.last_bar}"


def plan(
    candidates: Sequence[Candidate],
    minutes: int,
    today: date,
    *,
    in_turns: bool = True,
    assigned: Sequence[KeptAssignment] = (),
) -> tuple[PlanBlock, ...]:
    """The blocks of today's practice, in order; their minutes add up to `minutes` at most.

    Args:
        candidates: every line the player could play, in any order.
        minutes: what the player has; under 5 it is one easy block.
        today: the day of practice.
        in_turns: False plays each line's turns in one block.
        assigned: what a teacher asks for and is not done, the most urgent first. It comes right after the warm-up.
    """
    ranked = sorted(candidates, key=lambda candidate: _rank(candidate, today))
    if not ranked or minutes < 1:
        return ()
    minutes = min(minutes, MOST_MINUTES)
    easy = _easiest(ranked)
    if minutes < 5:
        return (_block(Purpose.ENDING, minutes, easy),)
    warm = 5 if minutes >= 25 else 3 if minutes >= 12 else 2
    rest = BREAK_MINUTES * _breaks(minutes)
    end = END_MINUTES if minutes >= 12 else 1
    asked = _assigned_blocks(ranked, assigned, minutes - warm - rest - end, today)
    busy = {block.line for block in asked}
    others = [candidate for candidate in ranked if candidate.line not in busy] or ranked
    left = minutes - warm - rest - end - sum(block.minutes for block in asked)
    turns = _turns(others, left, in_turns)
    work = [*asked, *(block for candidate, length, first in turns for block in _turn(candidate, length, first))]
    ending = _ending(ranked, easy, work)
    blocks = [_block(Purpose.WARM_UP, warm, easy), *work, _block(Purpose.ENDING, end, ending)]
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


def _ending(ranked: Sequence[Candidate], easy: Candidate, work: Sequence[PlanBlock]) -> Candidate:
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


def _assigned_blocks(
    ranked: Sequence[Candidate], assigned: Sequence[KeptAssignment], room: int, today: date
) -> list[PlanBlock]:
    """What a teacher asks for, each with its minutes, as far as there is room."""
    known = {candidate.line: candidate for candidate in ranked}
    blocks: list[PlanBlock] = []
    for each in assigned:
        minutes = min(each.minutes or TURN_MINUTES, room)
        if each.line not in known or minutes < 1:
            continue
        room -= minutes
        first, last = each.bars or (None, None)
        asked = AskedFor(each.teacher, each.tempo_bpm, each.by, each.by is not None and each.by < today, each.note)
        whole = _block(Purpose.ASSIGNED, minutes, known[each.line])
        tempo = round(min(float(whole.tempo_bpm or each.tempo_bpm), each.tempo_bpm))
        whole = whole._replace(bar=first, last_bar=last, tempo_bpm=tempo, asked=asked)
        count = -(-minutes // LONGEST_TURN_MINUTES)
        length, spare = divmod(minutes, count)
        blocks += [whole._replace(minutes=length + (number < spare)) for number in range(count)]
    return blocks


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


def _turn(candidate: Candidate, minutes: int, first: bool) -> list[PlanBlock]:
    """A turn on a line, its hard bar first when it is the line's first turn."""
    block = _block(Purpose.RIFF, minutes, candidate)
    if not first or candidate.hard_bar is None or minutes <= HARD_BAR_MINUTES:
        return [block]
    alone = block._replace(kind=Purpose.HARD_BAR, minutes=HARD_BAR_MINUTES, bar=candidate.hard_bar)
    return [alone, block._replace(minutes=minutes - HARD_BAR_MINUTES)]


def _block(kind: Purpose, minutes: int, candidate: Candidate) -> PlanBlock:
    known = candidate.tempo_bpm or candidate.best_bpm or candidate.start_bpm
    easy = EASY_SHARE * (candidate.best_bpm or candidate.start_bpm)
    slow = {Purpose.WARM_UP: min(0.7 * known, candidate.start_bpm), Purpose.ENDING: easy}
    return PlanBlock(kind, minutes, candidate.line, None, round(slow.get(kind, known)))


def _with_breaks(blocks: Sequence[PlanBlock], breaks: int) -> list[PlanBlock]:
    """The breaks at even distances, never between a hard bar and its riff."""
    stretch = sum(block.minutes for block in blocks) / (breaks + 1)
    answer: list[PlanBlock] = []
    played = had = 0
    for number, block in enumerate(blocks):
        tied = number > 0 and blocks[number - 1].kind is Purpose.HARD_BAR
        span = block.minutes + (blocks[number + 1].minutes if block.kind is Purpose.HARD_BAR else 0)
        if had < breaks and not tied and played + span / 2 > stretch * (had + 1):
            answer.append(PlanBlock(Purpose.BREAK, BREAK_MINUTES))
            had += 1
        answer.append(block)
        played += block.minutes
    return answer


MOST_KNOWN = 12
"""Exercises under practice that a plan is made from, the longest due first."""
MOST_NEW = 2
"""Exercises that were never practised and may be begun. House rules both: a plan is for one sitting."""


def exercises_for_today(shelf: Sequence[str], records: Mapping[str, ExerciseRecord], today: date) -> tuple[str, ...]:
    """The ids of the exercises to plan with: those under practice, the longest due first, then the next new ones.

    Args:
        shelf: the ids of all exercises, in the order in which they are to be taken up.
        records: what the log says of those that were practised.
        today: the day of practice it is now.
    """
    known = [name for name in dict.fromkeys(shelf) if name in records]
    known.sort(key=lambda name: (records[name].due_day or today.toordinal() + 1, records[name].last_ms))
    fresh = [name for name in dict.fromkeys(shelf) if name not in records]
    return (*known[:MOST_KNOWN], *fresh[:MOST_NEW])


def guitar_parts(riff: Riff) -> tuple[str, ...]:
    """The parts of a riff that are practised: its guitars, or whatever has strings where there is no guitar."""
    strings = [part.name for part in riff.parts if not isinstance(part, DrumPart)]
    guitars = tuple(name for name in strings if name.startswith("guitar"))
    return guitars or tuple(strings)


def candidates(exercises: Iterable[Exercise], log: Log) -> tuple[Candidate, ...]:
    """Every line of the exercises' guitars, with what the record says of it."""
    wanted = {goal.line for goal in log.ask(goals, None, GoalState.KEPT)}
    found = []
    for exercise in exercises:
        records = {record.line: record for record in log.ask(reading.lines, exercise.id)}
        for riff in exercise.riffs:
            for part in guitar_parts(riff):
                line = Line(exercise.id, riff.name, part)
                record = records.get(line)
                ladder = log.ask(reading.ladder, line) if record else None
                found.append(
                    Candidate(
                        line=line,
                        start_bpm=float(riff.tempo.start),
                        target_bpm=float(riff.tempo.target),
                        due=record.due if record else None,
                        best_bpm=record.best_bpm if record else 0.0,
                        clean_share=record.clean_share if record else None,
                        hard_bar=hardest_bar(log.ask(reading.line_bars, line)) if record else None,
                        tempo_bpm=_rung(ladder),
                        wanted=line in wanted,
                    )
                )
    return tuple(found)


def _rung(ladder: Mapping[str, Any] | None) -> float | None:
    """The tempo of a ladder's position; None where there is none that makes sense."""
    tempo = ladder.get("tempo_bpm") if ladder else None
    return float(tempo) if isinstance(tempo, int | float) and 0 < tempo < MOST_BPM else None
