"""One plan a day, for the screen and the command: made once, kept, found again, and what is done of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, NamedTuple, Self

from trainer.music.problem import Problem, ProblemsError
from trainer.notation.head import Head
from trainer.practice import reading
from trainer.practice.assigned import standings
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.practice.plan import MOST_MINUTES, PlanBlock, candidates, exercises_for_today, plan
from trainer.session.machine import Exercises
from trainer.session.memory import MemoryKey
from trainer.values import within

DONE_SHARE = 0.6
"""House rule: a block is done once so much of its minutes was played; counting-in and thinking take the rest."""
USUAL_MINUTES = 30


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A plan that stays the same all day, however much of it is practised already."""

    day: date
    minutes: Annotated[int, within(1, MOST_MINUTES)] = USUAL_MINUTES
    in_turns: bool = True
    blocks: tuple[PlanBlock, ...] = ()
    ticked: frozenset[int] = frozenset()
    """Blocks that the player called done."""
    unticked: frozenset[int] = frozenset()
    """Blocks that the player called not done, whatever was played."""
    before: tuple[tuple[Line, float], ...] = ()
    """Seconds that a line had been played on this day when the plan was made."""

    @property
    def filled(self) -> bool:
        """Whether its minutes were planned: `fill` keeps what every line had been played before."""
        return bool(self.before)

    def toggled(self, number: int, done: bool) -> Self:
        """The plan with a block called done, or not."""
        ticked, unticked = self.ticked - {number}, self.unticked - {number}
        return replace(
            self, ticked=ticked | {number} if done else ticked, unticked=unticked if done else unticked | {number}
        )

    def only(self, numbers: Sequence[int]) -> Self:
        """The plan cut down to some of its blocks, all of them called done: what a new plan goes on from."""
        blocks = tuple(self.blocks[number] for number in numbers)
        return replace(self, blocks=blocks, ticked=frozenset(range(len(blocks))), unticked=frozenset(), before=())


KEPT_PLAN: MemoryKey[DayPlan | None] = MemoryKey("today", None, DayPlan)
"""The last plan that was made, by the screen or by the command."""


class MadePlan(NamedTuple):
    """A plan, and what stood in its way."""

    plan: DayPlan
    unread: tuple[Problem, ...]
    """Of each exercise that could not be read the first problem."""


def plan_of(kept: DayPlan | None, today: date) -> DayPlan:
    """The kept plan, if it is today's; else an empty one with its minutes and its manner."""
    if kept is None:
        return DayPlan(today)
    return kept if kept.day == today else DayPlan(today, kept.minutes, kept.in_turns)


def made_anew(plan: DayPlan, played: Mapping[Line, float], minutes: int, in_turns: bool) -> DayPlan:
    """What to make another plan from: its blocks that are done stay done, and the rest is to be planned."""
    done = [number for number, state in enumerate(states(plan, played)) if state == "done"]
    return replace(plan.only(done), minutes=minutes, in_turns=in_turns)


def fill(
    begun: DayPlan, heads: Sequence[Head], exercises: Exercises, log: Log, cancelled: Callable[[], bool] = lambda: False
) -> MadePlan:
    """Plan the minutes that the blocks there are leave.

    Args:
        begun: what is done already (`made_anew`), or an empty plan.
        heads: of all exercises.
        exercises: reads the ones to plan with.
        log: what was practised.
        cancelled: whether nobody waits for it any more; the plan then is as it was.
    """
    shelf = [head.id for head in sorted(heads, key=lambda head: head.target_bpm) if not head.problem]
    found, unread = [], []
    assigned = [each.assignment for each in log.ask(standings) if each.done is None]
    asked = [name for name in dict.fromkeys(each.line.exercise for each in assigned) if name in set(shelf)]
    for name in dict.fromkeys((*asked, *exercises_for_today(shelf, log.ask(reading.exercises), begun.day))):
        if cancelled():
            return MadePlan(begun, ())
        try:
            found.append(exercises.read(exercises.find(name)))
        except ProblemsError as error:
            unread.append(error.problems[0])
    left = begun.minutes - sum(block.minutes for block in begun.blocks)
    done = {(block.line, block.bar) for block in begun.blocks if block.asked is not None}
    still = [each for each in assigned if (each.line, each.bars[0] if each.bars else None) not in done]
    blocks = plan(candidates(found, log), left, begun.day, in_turns=begun.in_turns, assigned=still)
    filled = replace(begun, blocks=(*begun.blocks, *blocks))
    return MadePlan(replace(filled, before=tuple(played_today(filled, log).items())), tuple(unread))


def played_today(plan: DayPlan, log: Log) -> dict[Line, float]:
    """Seconds that every line of the plan was played on its day."""
    answer = {}
    for line in dict.fromkeys(block.line for block in plan.blocks if block.line is not None):
        days = log.ask(reading.line_days, line)
        answer[line] = days[-1].seconds if days and days[-1].day == plan.day else 0.0
    return answer


def states(plan: DayPlan, played: Mapping[Line, float]) -> tuple[str, ...]:
    """For every block "done", "begun" or nothing.

    Args:
        plan: the plan.
        played: seconds that each line was played today. They fill a line's blocks in the order of the plan.
    """
    before = dict(plan.before)
    left = {line: max(0.0, seconds - before.get(line, 0.0)) for line, seconds in played.items()}
    answer = []
    for number, block in enumerate(plan.blocks):
        seconds = 0.0
        if block.line is not None:
            seconds = min(left.get(block.line, 0.0), 60.0 * block.minutes)
            left[block.line] = left.get(block.line, 0.0) - seconds
        full = seconds >= 60 * block.minutes * DONE_SHARE
        done = number in plan.ticked or (full and number not in plan.unticked)
        answer.append("done" if done else "begun" if seconds else "")
    return tuple(answer)


def next_block(states_of: Sequence[str]) -> int:
    """The first block that is not done; 0 when all are."""
    return next((number for number, state in enumerate(states_of) if state != "done"), 0)
