"""The plan of a day as it is kept: its blocks, what was done of them, and what the record held before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Self

from trainer.practice.line import Line
from trainer.practice.plan import MOST_MINUTES, Block, Kind

DONE_SHARE = 0.6
"""House rule: a block is done once so much of its minutes was played; counting-in and thinking take the rest."""
USUAL_MINUTES = 30


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A plan that stays the same all day, however much of it is practised already."""

    day: date
    minutes: int = USUAL_MINUTES
    in_turns: bool = True
    blocks: tuple[Block, ...] = ()
    ticked: frozenset[int] = frozenset()
    """Blocks that the player called done."""
    unticked: frozenset[int] = frozenset()
    """Blocks that the player called not done, whatever was played."""
    before: tuple[tuple[Line, float], ...] = ()
    """Seconds that a line had been played on this day when the plan was made."""

    def toggled(self, number: int, done: bool) -> Self:
        """The plan with a block called done, or not."""
        ticked, unticked = self.ticked - {number}, self.unticked - {number}
        return replace(
            self, ticked=ticked | {number} if done else ticked, unticked=unticked if done else unticked | {number}
        )

    def as_dict(self) -> dict[str, Any]:
        """As plain values for JSON."""
        return {
            "day": self.day.isoformat(),
            "minutes": self.minutes,
            "in_turns": self.in_turns,
            "blocks": [[b.kind.value, b.minutes, b.line, b.bar, b.tempo_bpm] for b in self.blocks],
            "ticked": sorted(self.ticked),
            "unticked": sorted(self.unticked),
            "before": [[line, seconds] for line, seconds in self.before],
        }

    @classmethod
    def from_dict(cls, values: Any, today: date) -> Self:
        """What `as_dict` gave. Of another day's plan only the minutes and the manner are taken over.

        What is not understood gives an empty plan.
        """
        try:
            minutes = min(max(1, int(values["minutes"])), MOST_MINUTES)
            fresh = cls(today, minutes, bool(values["in_turns"]))
            if date.fromisoformat(values["day"]) != today:
                return fresh
            return replace(
                fresh,
                blocks=tuple(_block(block) for block in values["blocks"]),
                ticked=frozenset(int(number) for number in values["ticked"]),
                unticked=frozenset(int(number) for number in values["unticked"]),
                before=tuple((_line(line), float(seconds)) for line, seconds in values["before"]),
            )
        except (TypeError, ValueError, KeyError):
            return cls(today)


def _line(names: Sequence[Any]) -> Line:
    exercise, riff, part = names
    return Line(str(exercise), str(riff), str(part))


def _block(values: Sequence[Any]) -> Block:
    kind, minutes, line, bar, tempo = values
    return Block(
        Kind(kind),
        int(minutes),
        _line(line) if line is not None else None,
        int(bar) if bar is not None else None,
        int(tempo) if tempo is not None else None,
    )


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
