"""`twinspur finger`: how a line can be played: strings, frets, fingers and strokes."""

import argparse
import re
from dataclasses import replace
from typing import Any

from trainer.arranging.demand_words import trouble_sentences
from trainer.arranging.fingered import Fingered, fingerings
from trainer.arranging.grip import Limits
from trainer.arranging.hand import FINGERS, STANDARD_HAND, Hand
from trainer.arranging.plain_data import plain_data
from trainer.arranging.strokes import Picking, rule_words, with_strokes
from trainer.commands.arranging import arranging_options, choose
from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say, say_json
from trainer.music.instrument import MAX_FRETS, MAX_STRINGS
from trainer.music.riff import Riff
from trainer.notation.write import tab_lines
from trainer.playback.share import parse_share

MOST_WAYS = 12


def options(parser: argparse.ArgumentParser) -> None:
    """The line, how fast it is played, and what the left hand may use."""
    arranging_options(parser)
    parser.add_argument("--tempo", metavar="96|60%", help="the tempo to play it at (the target)")
    parser.add_argument("--ways", metavar="N", type=int, default=1, help="how many different ways to show (1)")
    parser.add_argument("--anew", action="store_true", help="look for other strings and frets than are written")
    parser.add_argument("--near", metavar="FRET", type=int, help="stay close to this fret")
    parser.add_argument("--strings", metavar="1-3", help="only these strings")
    parser.add_argument("--frets", metavar="5-9", help="only these frets (and open strings)")
    parser.add_argument("--fingers", metavar="N", type=int, help="only the first N fingers, 1 to 4")
    parser.add_argument("--no-open", action="store_true", help="avoid open strings")
    strokes = [picking.value for picking in Picking]
    parser.add_argument("--strokes", choices=strokes, default=Picking.ALTERNATE.value, help="how strokes are chosen")
    parser.add_argument(
        "--write", metavar="N", type=int, help="write the Nth way into the file (with --riff and --part)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Show the ways, or write one."""
    chosen = choose(arguments)
    limits, hand = _limits(arguments), _hand(arguments.fingers)
    count = max(arguments.ways, arguments.write or 1)
    if not 1 <= count <= MOST_WAYS:
        raise CallError(f"--ways cannot be {count}: 1 to {MOST_WAYS}.")
    if arguments.write is not None and not (arguments.riff and arguments.part):
        raise CallError("--write needs to know which part: add --riff and --part.")
    picking = Picking(arguments.strokes)
    found: list[tuple[Riff, tuple[Fingered, ...]]] = []
    for riff, tab in chosen.tabs(arguments.part):
        bpm = parse_share(arguments.tempo, riff.tempo.target) * riff.tempo.target if arguments.tempo else None
        ways = fingerings(
            tab, riff, count, bpm=bpm, hand=hand, limits=limits, anew=arguments.anew, file=str(chosen.path)
        )
        found.append((riff, tuple(replace(way, part=with_strokes(way.part, riff, picking)) for way in ways)))
    if arguments.write is not None:
        riff, ways = found[0]
        if len(ways) < arguments.write:
            raise CallError(f"there is no way {arguments.write}: the neck has {len(ways)} different ones.")
        chosen.save_tab(riff, ways[arguments.write - 1].part)
        return DONE
    if arguments.json:
        say_json([_plain(riff, way, number) for riff, ways in found for number, way in enumerate(ways, 1)])
        return DONE
    for riff, ways in found:
        for number, way in enumerate(ways, 1):
            _show(riff, way, number, len(ways), picking)
    return DONE


def _show(riff: Riff, way: Fingered, number: int, count: int, picking: Picking) -> None:
    which = f", way {number} of {count}" if count > 1 else ""
    say(f"{riff.name}, {way.part.name}{which}", strong=True)
    for line in tab_lines(way.part, riff):
        say("  " + line)
    for text in trouble_sentences(way.troubles, riff):
        say(text)
    say(rule_words(way.part, riff, picking))
    say()


def _plain(riff: Riff, way: Fingered, number: int) -> dict[str, Any]:
    return {
        "riff": riff.name,
        "part": way.part.name,
        "way": number,
        "cost": round(way.cost, 4),
        "tab": tab_lines(way.part, riff),
        "positions": list(way.fingering.positions),
        "troubles": plain_data(way.troubles),
    }


def _range(option: str, text: str | None, low: int, high: int) -> tuple[int, int] | None:
    if text is None:
        return None
    found = re.fullmatch(r"(\d{1,2})(?:-(\d{1,2}))?", text, re.ASCII)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (low - 1, low - 1)
    if not low <= first <= last <= high:
        raise CallError(f"{option} cannot be {text}: {low} to {high}, such as 1-3.")
    return first, last


def _limits(arguments: argparse.Namespace) -> Limits:
    if arguments.near is not None and not 0 <= arguments.near <= MAX_FRETS:
        raise CallError(f"--near cannot be {arguments.near}: 0 to {MAX_FRETS}.")
    return Limits(
        strings=_range("--strings", arguments.strings, 1, MAX_STRINGS),
        frets=_range("--frets", arguments.frets, 0, MAX_FRETS),
        near=arguments.near,
        avoid_open=arguments.no_open,
    )


def _hand(fingers: int | None) -> Hand:
    if fingers is None:
        return STANDARD_HAND
    if not 1 <= fingers <= len(FINGERS):
        raise CallError(f"--fingers cannot be {fingers}: 1 to {len(FINGERS)}.")
    return replace(STANDARD_HAND, fingers=FINGERS[:fingers])
