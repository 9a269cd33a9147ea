"""`twinspur demand`: what a part asks of both hands, and at which tempo each limit is reached."""

import argparse
from collections.abc import Mapping

from trainer.arranging.abilities import own_abilities
from trainer.arranging.demand import Demand, demand
from trainer.arranging.demand_words import demand_sentences
from trainer.arranging.plain_data import plain_data
from trainer.commands.arranging import arranging_options, choose
from trainer.commands.clean_rates import CleanRate, clean_rates
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.terminal import say, say_json, table
from trainer.playback.share import parse_share
from trainer.settings import MOST_A_SECOND


def options(parser: argparse.ArgumentParser) -> None:
    """The part to examine, at which tempo, against whose limits, and in how much detail."""
    arranging_options(parser)
    parser.add_argument("--tempo", metavar="96|60%", help="the tempo to look at (the target)")
    parser.add_argument(
        "--limit",
        metavar="WHAT=N",
        action="append",
        default=[],
        help=f"a limit of your own, a second: {', '.join(LIMITS)}; such as strokes=12 (settings: [hands])",
    )
    parser.add_argument(
        "--measured", action="store_true", help="take what your clean passes show as the limits of your hands"
    )
    parser.add_argument("--by-bar", action="store_true", help="show the figures of every bar")


def run(arguments: argparse.Namespace) -> int:
    """Tell it."""
    chosen = choose(arguments)
    rates = clean_rates(machine()) if arguments.measured else {}
    own: dict[str, float] = {**machine().settings().hands, **{name: rate.value for name, rate in rates.items()}}
    own |= _asked(arguments.limit)
    found = []
    for riff, tab in chosen.tabs(arguments.part):
        bpm = parse_share(arguments.tempo, riff.tempo.target) * riff.tempo.target if arguments.tempo else None
        found.append((riff, demand(tab, riff, bpm=bpm, abilities=own_abilities(own))))
    if arguments.json:
        say_json([plain_data(one) for _, one in found])
        return DONE
    if arguments.measured:
        _measured(rates)
    for number, (riff, one) in enumerate(found):
        say(("\n" if number or arguments.measured else "") + f"{riff.name}, {one.part}", strong=True)
        for text in demand_sentences(one, riff, tuple(own)):
            say(text)
        if arguments.by_bar:
            _bars(one)
    return DONE


LIMITS = {"strokes": "strokes", "notes": "notes", "string-changes": "string_changes"}
"""What may be limited on the command line, and its name in the settings."""


def _asked(asked: list[str]) -> dict[str, float]:
    """The limits asked for, by their names in the settings. Raises CallError."""
    own: dict[str, float] = {}
    for text in asked:
        name, _, value = text.partition("=")
        if name not in LIMITS or not value.isascii() or not value.isdigit() or not 1 <= int(value[:4]) <= MOST_A_SECOND:
            names = ", ".join(f"{one}=N" for one in LIMITS)
            raise CallError(f'--limit cannot be "{text}": {names}, with N from 1 to {MOST_A_SECOND}.')
        own[LIMITS[name]] = float(value)
    return own


def _measured(rates: Mapping[str, CleanRate]) -> None:
    """Say what clean passes show."""
    if not rates:
        say("No clean pass of a whole riff is in the record yet: the limits are house rules.")
    for name, rate in rates.items():
        say(f"Kept up clean: {rate.value:.1f} {name.replace('_', ' ')} a second ({rate.where}).")


def _bars(found: Demand) -> None:
    rows = [("bar", "notes/s", "strokes/s", "shifts/s", "longest shift", "stretch", "string changes/s", "of the limit")]
    for bar in found.bars:
        lengths = (f"{bar.longest_shift_mm:.0f} mm", f"{bar.stretch_mm:.0f} mm")
        rates = (f"{bar.notes_per_s:.1f}", f"{bar.strokes_per_s:.1f}", f"{bar.shifts_per_s:.1f}")
        rows.append((str(bar.bar), *rates, *lengths, f"{bar.crossings_per_s:.1f}", f"{bar.share:.0%}"))
    for line in table(rows, right=frozenset(range(8))):
        say("  " + line)
