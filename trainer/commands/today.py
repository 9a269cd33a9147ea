"""`twinspur today`: what to play in the minutes there are."""

import argparse

from trainer.commands.exercises import library
from trainer.commands.line import DONE, CallError
from trainer.commands.record import open_log, readable, today
from trainer.commands.terminal import say, say_json, table
from trainer.practice import reading
from trainer.practice.plan import MOST_MINUTES, Block, plan
from trainer.practice.today import candidates, exercises_for_today


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    parser.add_argument(
        "--minutes", metavar="N", type=int, default=30, help=f"the minutes there are, 1 to {MOST_MINUTES} (30)"
    )
    parser.add_argument("--in-blocks", action="store_true", help="one riff after the other instead of in turns")
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Print the plan."""
    if not 1 <= arguments.minutes <= MOST_MINUTES:
        raise CallError(f"--minutes cannot be {arguments.minutes}: 1 to {MOST_MINUTES}.")
    log = open_log()
    try:
        shelf = [head.id for head in sorted(library().heads(), key=lambda head: head.target_bpm) if not head.problem]
        ids = exercises_for_today(shelf, log.ask(reading.exercises), today())
        blocks = plan(candidates(readable(ids), log), arguments.minutes, today(), in_turns=not arguments.in_blocks)
    finally:
        log.close()
    if arguments.json:
        say_json([_plain(block) for block in blocks])
        return DONE
    if not blocks:
        say("There is nothing to play: no exercise could be read.")
        return DONE
    for line in table([_row(block) for block in blocks], right=frozenset({0})):
        say(line)
    say("\nPain, numbness or loss of control: stop, and see a professional.")
    return DONE


def _row(block: Block) -> tuple[str, ...]:
    minutes = f"{block.minutes} min"
    if block.line is None:
        return (minutes, block.kind.value, "hands off the guitar", "", "")
    bar = f", bar {block.bar}" if block.bar else ""
    tempo = f"{block.tempo_bpm} bpm" if block.tempo_bpm else ""
    return (minutes, block.kind.value, block.line.exercise, f"{block.line.riff}{bar}, {block.line.part}", tempo)


def _plain(block: Block) -> dict[str, object]:
    line = block.line._asdict() if block.line else None
    return {
        "kind": block.kind.value,
        "minutes": block.minutes,
        "line": line,
        "bar": block.bar,
        "tempo_bpm": block.tempo_bpm,
    }
