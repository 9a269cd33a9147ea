"""`twinspur today`: today's plan, the same one that the screen shows."""

import argparse

from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.record import today
from trainer.commands.terminal import complain, say, say_json, table
from trainer.music.printable import printable
from trainer.practice.plan import MOST_MINUTES, PlanBlock
from trainer.session.day_plan import KEPT_PLAN, fill, made_anew, plan_of, played_today, states
from trainer.values import plain


def options(parser: argparse.ArgumentParser) -> None:
    """The minutes there are, how they are filled, and how the plan is printed."""
    minutes = f"the minutes there are, 1 to {MOST_MINUTES} (30); a change plans the rest anew"
    parser.add_argument("--minutes", metavar="N", type=int, help=minutes)
    manner = parser.add_mutually_exclusive_group()
    manner.add_argument("--in-blocks", action="store_true", help="one riff after the other instead of in turns")
    manner.add_argument("--in-turns", action="store_true", help="riffs in turns, as usual")
    parser.add_argument("--new", action="store_true", help="plan anew what is not done")
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Print today's plan; make it, if there is none or another one is asked for."""
    if arguments.minutes is not None and not 1 <= arguments.minutes <= MOST_MINUTES:
        raise CallError(f"--minutes cannot be {arguments.minutes}: 1 to {MOST_MINUTES}.")
    mine = machine()
    kept = plan_of(mine.memory.get(KEPT_PLAN), today())
    minutes = arguments.minutes or kept.minutes
    in_turns = arguments.in_turns or (kept.in_turns and not arguments.in_blocks)
    found = kept.filled and not arguments.new and (minutes, in_turns) == (kept.minutes, kept.in_turns)
    if not found:
        begun = made_anew(kept, played_today(kept, mine.log), minutes, in_turns)
        kept, unread = fill(begun, mine.exercises.heads(), mine.exercises, mine.log)
        for problem in unread:
            complain(str(problem))
        mine.memory.put(KEPT_PLAN, kept)
    known = states(kept, played_today(kept, mine.log))
    if arguments.json:
        say_json([_plain(block, state) for block, state in zip(kept.blocks, known, strict=True)])
        return DONE
    if not kept.blocks:
        say("There is nothing to play: no exercise could be read.")
        return DONE
    if found:
        say("The plan that was made for today. Another one: --new, or other --minutes.\n")
    rows = [_row(block, state) for block, state in zip(kept.blocks, known, strict=True)]
    for line in table(rows, right=frozenset({0})):
        say(line)
    for block in {block.asked: block for block in kept.blocks if block.asked}.values():
        _tell_asked(block)
    say("\nPain, numbness or loss of control: stop, and see a professional.")
    return DONE


def _tell_asked(block: PlanBlock) -> None:
    """Say what the teacher asks for in a block."""
    if block.asked is None or block.line is None:
        return
    asked = block.asked
    by = f" by {asked.by.isoformat()}{' (late)' if asked.late else ''}" if asked.by else ""
    place = ", ".join(word for word in (block.line.riff, block.bar_words, block.line.part) if word)
    say(f"\n{printable(asked.teacher or 'Your teacher')} asks for {asked.tempo_bpm:g} bpm{by}: {place}.")
    for row in asked.note.splitlines():
        say(f"  {printable(row)}")


def _row(block: PlanBlock, state: str) -> tuple[str, ...]:
    minutes = f"{block.minutes} min"
    if block.line is None:
        return (minutes, block.kind.value, "hands off the guitar", "", "", state)
    bar = f", {block.bar_words}" if block.bar_words else ""
    tempo = f"{block.tempo_bpm} bpm" if block.tempo_bpm else ""
    place = f"{block.line.riff}{bar}, {block.line.part}"
    return (minutes, block.kind.value, block.line.exercise, place, tempo, state)


def _plain(block: PlanBlock, state: str) -> dict[str, object]:
    line = block.line._asdict() if block.line else None
    return {
        "kind": block.kind.value,
        "minutes": block.minutes,
        "line": line,
        "bar": block.bar,
        "last_bar": block.last_bar,
        "tempo_bpm": block.tempo_bpm,
        "asked": plain(block.asked._asdict()) if block.asked else None,
        "state": state,
    }
