"""`twinspur demand`: what a part asks of both hands, and at which tempo each ceiling is reached."""

import argparse

from trainer.arranging.demand import Demand, demand
from trainer.arranging.demand_words import demand_sentences
from trainer.arranging.plain_data import plain_data
from trainer.commands.arranging import arranging_options, choose
from trainer.commands.line import DONE
from trainer.commands.terminal import say, say_json, table
from trainer.playback.share import parse_share


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    arranging_options(parser)
    parser.add_argument("--tempo", metavar="96|60%", help="the tempo to look at (the target)")
    parser.add_argument("--by-bar", action="store_true", help="show the figures of every bar")


def run(arguments: argparse.Namespace) -> int:
    """Tell it."""
    chosen = choose(arguments)
    found = []
    for riff, tab in chosen.tabs(arguments.part):
        bpm = parse_share(arguments.tempo, riff.tempo.target) * riff.tempo.target if arguments.tempo else None
        found.append((riff, demand(tab, riff, bpm=bpm)))
    if arguments.json:
        say_json([plain_data(one) for _, one in found])
        return DONE
    for number, (riff, one) in enumerate(found):
        say(("\n" if number else "") + f"{riff.name}, {one.part}", strong=True)
        for text in demand_sentences(one, riff):
            say(text)
        if arguments.by_bar:
            _bars(one)
    return DONE


def _bars(found: Demand) -> None:
    rows = [
        ("bar", "notes/s", "strokes/s", "shifts/s", "longest shift", "stretch", "string changes/s", "of the ceiling")
    ]
    for bar in found.bars:
        lengths = (f"{bar.longest_shift_mm:.0f} mm", f"{bar.stretch_mm:.0f} mm")
        rates = (f"{bar.notes_per_s:.1f}", f"{bar.strokes_per_s:.1f}", f"{bar.shifts_per_s:.1f}")
        rows.append((str(bar.bar), *rates, *lengths, f"{bar.crossings_per_s:.1f}", f"{bar.share:.0%}"))
    for line in table(rows, right=frozenset(range(8))):
        say("  " + line)
