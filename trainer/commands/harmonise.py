"""`twinspur harmonise`: a second guitar for a line: heard, seen, or written into the file."""

import argparse
from collections import Counter

from trainer.arranging.demand_words import change_sentences
from trainer.arranging.interval_line import interval_line
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import realise_told
from trainer.commands.arranging import Chosen, arranging_options, choose
from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say, say_json
from trainer.music.part import HarmonyPart, TabPart, parse_distance
from trainer.music.problem import nearest
from trainer.music.riff import Riff
from trainer.notation.edit import put_block
from trainer.notation.files import file_text, save
from trainer.notation.harmony import ALLOWED, interval_words
from trainer.notation.read import read
from trainer.notation.write import harmony_text, tab_lines


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    arranging_options(parser)
    parser.add_argument("--interval", metavar="WORDS", required=True, help=f'{ALLOWED}, or "pedal E3"')
    parser.add_argument(
        "--as", metavar="PART", dest="name", default="guitar 2", help="the part that plays it (guitar 2)"
    )
    parser.add_argument("--near", metavar="FRET", type=int, help="stay close to this fret")
    parser.add_argument("--contrary", action="store_true", help="move against the line, from the interval on")
    parser.add_argument(
        "--avoid", metavar="PART|chord", action="append", help="change what clashes with this part, or the chord"
    )
    parser.add_argument("--write", action="store_true", help="put a harmony block into the file")
    parser.add_argument("--write-tab", action="store_true", help="put the computed line into the file as a tab")


def run(arguments: argparse.Namespace) -> int:
    """Compute it in every riff that has the line."""
    chosen = choose(arguments)
    line = arguments.part or "guitar 1"
    if arguments.name == line:
        raise CallError(f"--as cannot be {line}: a harmony does not follow itself.")
    riffs = [riff for riff in chosen.riffs if arguments.riff or riff.part(line) is not None]
    results = [_one(chosen, riff, line, arguments) for riff in riffs]
    if not riffs:
        raise CallError(f'no riff has a part "{line}".')
    if arguments.json:
        say_json(results)
    return DONE


def _one(chosen: Chosen, riff: Riff, line: str, arguments: argparse.Namespace) -> dict[str, object]:
    asked = _asked(line, arguments)
    # What is shown is what the file would say: the block is put into its text and read back.
    content = harmony_text(asked, riff).rstrip("\n").split("\n")
    text = put_block(file_text(chosen.path), riff.name, "harmony", asked.name, content, file=str(chosen.path))
    with_block = read(text, str(chosen.path)).riff(riff.name)
    assert with_block is not None  # noqa: S101 - it was there before the block was
    told = realise_told(with_block, str(chosen.path))
    lead, answer = told.riff.part(line), told.riff.part(asked.name)
    assert isinstance(lead, TabPart)  # noqa: S101 - computed three lines above
    assert isinstance(answer, TabPart)  # noqa: S101
    shared = interval_line(lead, answer, told.riff)
    changes = change_sentences(told.changes, told.riff)
    tab = tab_lines(answer, told.riff)
    if not arguments.json:
        say(f"{riff.name}, {asked.name}: {asked.distance} of {line}", strong=True)
        for row in tab:
            say("  " + row)
        say(f"Intervals: {_counted([one.name for one in shared])}.")
        for change in changes:
            say(change)
    if arguments.write_tab:
        chosen.save_tab(told.riff, answer)
    elif arguments.write:
        save(chosen.path, text)
        say(f"{chosen.path}: {asked.name} of {riff.name} is written.")
    intervals = [{**plain_data(one), "name": one.name, "number": one.number, "above": one.above} for one in shared]
    return {"riff": riff.name, "part": asked.name, "tab": tab, "intervals": intervals, "changes": list(changes)}


def _counted(names: list[str]) -> str:
    """Names with how often each comes: "m3 12 times, M3 4 times"."""
    counts = Counter(names).most_common()
    return ", ".join(f"{name} {count} {'time' if count == 1 else 'times'}" for name, count in counts) or "none shared"


def _asked(line: str, arguments: argparse.Namespace) -> HarmonyPart:
    try:
        distance = parse_distance(" ".join(arguments.interval.split()))
    except ValueError:
        meant = nearest(arguments.interval, interval_words())
        hint = f'Did you mean "{meant}"?' if meant else f"{ALLOWED[0].upper()}{ALLOWED[1:]}."
        raise CallError(f'--interval cannot be "{arguments.interval}". {hint}') from None
    return HarmonyPart(
        arguments.name,
        line,
        distance,
        near=arguments.near,
        contrary=arguments.contrary,
        avoid=tuple(arguments.avoid or ()),
    )
