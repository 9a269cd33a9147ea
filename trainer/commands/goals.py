"""`twinspur goals`: tempos to reach, and when the record says they will be."""

import argparse
from datetime import date, datetime
from random import Random
from typing import Any
from uuid import uuid4

from trainer.commands.exercises import choose_riff, load
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.record import now, today
from trainer.commands.terminal import say, say_json, table
from trainer.music.problem import nearest
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.practice import reading
from trainer.practice.forecast import Forecast, forecast
from trainer.practice.goals import Goal, GoalState, change_goal, goals, put_goal
from trainer.practice.line import Line
from trainer.practice.log import Log


def options(parser: argparse.ArgumentParser) -> None:
    """A goal to set, give up or take up again; without one they are listed."""
    parser.add_argument(
        "exercise", metavar="EXERCISE", nargs="?", help="only this exercise's goals, or the one to add a goal to"
    )
    parser.add_argument("--add", metavar="BPM", type=float, help="set a goal: this tempo for --riff and --part")
    parser.add_argument("--riff", metavar="NAME", help="the riff of the goal")
    parser.add_argument("--part", metavar="PART", default="guitar 1", help="the part of the goal (guitar 1)")
    parser.add_argument("--by", metavar="YYYY-MM-DD", help="the date it is wanted by")
    parser.add_argument("--give-up", metavar="N", type=int, help="give up the goal with this number in the list")
    parser.add_argument("--take-up", metavar="N", type=int, help="take the goal with this number up again")
    parser.add_argument("--json", action="store_true", help="print the goals as JSON")


def run(arguments: argparse.Namespace) -> int:
    """List, add, give up or take up."""
    log = machine().log
    if arguments.add is not None:
        _add(log, arguments)
    for number, state in ((arguments.give_up, GoalState.GIVEN_UP), (arguments.take_up, GoalState.KEPT)):
        if number is not None:
            _change(log, number, state)
    return _list(log, arguments.exercise, arguments.json)


def _add(log: Log, arguments: argparse.Namespace) -> None:
    if not arguments.exercise or not arguments.riff:
        raise CallError("A goal needs an exercise and a riff: twinspur goals EXERCISE --riff NAME --add 160.")
    if not SLOWEST_BPM <= arguments.add <= FASTEST_BPM:
        raise CallError(f"--add cannot be {arguments.add:g}: {SLOWEST_BPM} to {FASTEST_BPM} bpm.")
    try:
        by = date.fromisoformat(arguments.by) if arguments.by else None
    except ValueError:
        raise CallError(f"--by cannot be {arguments.by}: a date such as 2027-03-31.") from None
    exercise, _ = load(arguments.exercise)
    riff = choose_riff(exercise, arguments.riff)
    if arguments.part not in riff.part_names:
        meant = nearest(arguments.part, riff.part_names)
        hint = f'Did you mean "{meant}"?' if meant else f"It has: {', '.join(riff.part_names)}."
        raise CallError(f'no part "{arguments.part}" in {riff.name}. {hint}')
    line = Line(exercise.id, riff.name, arguments.part)
    log.change(put_goal, Goal(uuid4().hex, line, arguments.add, by, now()))


def _change(log: Log, number: int, state: GoalState) -> None:
    every = log.ask(goals)
    if not 1 <= number <= len(every):
        raise CallError(f"there is no goal {number}. twinspur goals lists them with their numbers.")
    log.change(change_goal, every[number - 1].uuid, state, round(now().timestamp() * 1000))


def _forecast(log: Log, goal: Goal) -> Forecast:
    # The same record gives the same forecast: the draws begin at one place.
    return forecast(log.ask(reading.line_days, goal.line), goal.target_bpm, today(), Random(1), goal.by)  # noqa: S311


def _list(log: Log, exercise: str | None, as_json: bool) -> int:
    every = [(number, goal) for number, goal in enumerate(log.ask(goals), 1) if exercise in (None, goal.line.exercise)]
    if as_json:
        say_json([_plain(number, goal, _forecast(log, goal)) for number, goal in every])
        return DONE
    if not every:
        say("No goals. Set one: twinspur goals EXERCISE --riff NAME --part PART --add BPM --by DATE.")
        return DONE
    rows = [("no.", "exercise", "riff", "part", "bpm", "by", "state", "what the record says")]
    for number, goal in every:
        says = _forecast(log, goal).sentence() if goal.state is GoalState.KEPT else ""
        by = goal.by.isoformat() if goal.by else "-"
        rows.append((str(number), *goal.line, f"{goal.target_bpm:g}", by, goal.state.value, says))
    for line in table(rows, right=frozenset({0, 4})):
        say(line)
    return DONE


def _plain(number: int, goal: Goal, says: Forecast) -> dict[str, Any]:
    def day(value: date | datetime | None) -> str | None:
        return value.isoformat() if value else None

    return {
        "number": number,
        **goal.line._asdict(),
        "target_bpm": goal.target_bpm,
        "by": day(goal.by),
        "state": goal.state.value,
        "set_at": day(goal.set_at),
        "forecast": {
            "prospect": says.prospect.value,
            "early": day(says.early),
            "likely": day(says.likely),
            "late": day(says.late),
            "chance_in_sight": says.chance_in_sight,
            "chance_by": says.chance_by,
            "sentence": says.sentence(),
        },
    }
