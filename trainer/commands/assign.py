"""`twinspur assign`: what a teacher asks for: checked, kept, its tempos set as goals, listed and taken away again."""

import argparse
from pathlib import Path
from typing import Any

from trainer.commands.exercises import load
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.record import now, today
from trainer.commands.terminal import say, say_json, table
from trainer.exchange.assignment import kept, lines_of, read_assignments
from trainer.music.printable import printable
from trainer.music.problem import nearest
from trainer.notation.files import file_text
from trainer.practice.assigned import (
    KeptAssignment,
    Standing,
    assignments,
    remove_assignments,
    remove_source,
    set_assignments,
    standings,
)
from trainer.practice.log import Log


def options(parser: argparse.ArgumentParser) -> None:
    """The teacher's file, or what to take away; without one of them the assignments are listed."""
    parser.add_argument(
        "file", metavar="FILE", type=Path, nargs="?", help="the assignments, a .toml file; without one they are listed"
    )
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--check", action="store_true", help="only say what it asks for and what is wrong in it")
    one.add_argument("--remove", metavar="NAME", help="take away what came in a file or set, or one assignment by name")
    one.add_argument("--json", action="store_true", help="print the list as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Set what a file asks for, whole or not at all; or take assignments away, or list them.

    The same file again replaces what came in it before: nothing doubles, and a goal that is reached or given up stays
    so unless the teacher asks for something else.
    """
    log = machine().log
    if arguments.remove is not None:
        if arguments.file is not None:
            raise CallError("--remove takes assignments away, a file sets them: give one of the two.")
        return _remove(log, arguments.remove)
    if arguments.file is None:
        if arguments.check:
            raise CallError("--check needs a file to look into.")
        return _list(log, as_json=arguments.json)
    if arguments.json:
        raise CallError("--json prints the list: leave the file out.")
    return _set(log, arguments.file, check=arguments.check)


def _set(log: Log, path: Path, *, check: bool) -> int:
    file = printable(str(path))
    asked = read_assignments(file_text(path), file)
    lines = lines_of(asked, file, lambda name: load(name)[0])
    new = kept(asked, lines, path.name, now())
    tell(new)
    if check:
        say("\nNothing is wrong in it. Without --check it is kept, and tempos of whole riffs become goals.")
        return DONE
    replaced = log.change(set_assignments, path.name, new, round(now().timestamp() * 1000))
    say(f"\nAssignments kept: {len(new)}; goals set: {replaced.goals}. They come first in twinspur today.")
    if replaced.gone:
        say(f"Taken away, because the file no longer asks for it: {replaced.gone}.")
    return DONE


def _remove(log: Log, name: str) -> int:
    every = log.ask(assignments)
    gone = log.change(remove_source, Path(name).name)
    if not gone:
        named = [each.line for each in every if each.name == name]
        gone = log.change(remove_assignments, named) if named else 0
    if not gone:
        meant = nearest(name, [*(each.source for each in every), *(each.name for each in every)])
        hint = f'Did you mean "{meant}"?' if meant else "See twinspur assign."
        raise CallError(f'there is no assignment and no file called "{name}". {hint}')
    what = "assignment is" if gone == 1 else "assignments are"
    say(f"{gone} {what} taken away, and the goals that came with it and are not reached. What you practised stays.")
    return DONE


def tell(asked: tuple[KeptAssignment, ...]) -> None:
    """Say what is asked for, in the teacher's order and words."""
    teacher = next((each.teacher for each in asked), "")
    say(f"From {printable(teacher)}:" if teacher else "From your teacher:")
    for each in asked:
        by = f", by {each.by.isoformat()}" if each.by else ""
        daily = f", {each.minutes} minutes a day" if each.minutes else ""
        say(f"  {printable(each.name)}: {each.line.exercise}, {each.place}: {each.tempo_bpm:g} bpm{by}{daily}")
        for row in each.note.splitlines():
            say(f"      {printable(row)}")


def _list(log: Log, *, as_json: bool) -> int:
    found = log.ask(standings)
    if as_json:
        say_json([_plain(each) for each in found])
        return DONE
    if not found:
        say("Nothing is assigned. Set what a teacher sends: twinspur assign FILE.")
        return DONE
    rows = [("name", "exercise", "riff", "bars", "part", "bpm", "by", "a day", "from", "")]
    for each in found:
        asked = each.assignment
        bars = "-".join(str(bar) for bar in dict.fromkeys(asked.bars)) or "all"
        by = asked.by.isoformat() if asked.by else "-"
        daily = f"{asked.minutes} min" if asked.minutes else "-"
        where = f"{asked.teacher}, {asked.source}" if asked.teacher else asked.source
        place = (asked.line.exercise, asked.line.riff, bars, asked.line.part)
        rows.append((asked.name, *place, f"{asked.tempo_bpm:g}", by, daily, where, each.state(today())))
    for line in table(rows, right=frozenset({5})):
        say(line)
    return DONE


def _plain(standing: Standing) -> dict[str, Any]:
    asked = standing.assignment
    return {
        "name": asked.name,
        **asked.line._asdict(),
        "bars": list(asked.bars),
        "tempo_bpm": asked.tempo_bpm,
        "by": asked.by.isoformat() if asked.by else None,
        "minutes": asked.minutes,
        "note": asked.note,
        "teacher": asked.teacher,
        "source": asked.source,
        "done": standing.done.isoformat() if standing.done else None,
        "state": standing.state(today()),
    }
