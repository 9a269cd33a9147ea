"""`twinspur harmonise`: a second guitar for a line: heard, seen, or written into the file."""

import argparse
from collections import Counter
from collections.abc import Iterator

from trainer.arranging.answers import CHORD
from trainer.arranging.demand_words import change_sentences
from trainer.arranging.harmony_fit import HarmonyMisfit, fit_harmony, fit_sentences, misfit_sentence
from trainer.arranging.interval_line import interval_line
from trainer.arranging.plain_data import plain_data
from trainer.arranging.played_chords import unknown_chord_names
from trainer.arranging.realise import realise_told
from trainer.arranging.scale import parent, spell
from trainer.commands.arranging import Chosen, arranging_options, choose
from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say, say_json
from trainer.music.interval import Distance
from trainer.music.note import Touch
from trainer.music.part import HarmonyPart, TabPart, parse_distance
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi
from trainer.notation.edit import put_block
from trainer.notation.harmony import ALLOWED
from trainer.notation.likely import likely_interval
from trainer.notation.read import read
from trainer.notation.write import harmony_text, tab_lines


def options(parser: argparse.ArgumentParser) -> None:
    """The line, the interval to harmonise it at, and what to do with the result."""
    arranging_options(parser)
    parser.add_argument("--interval", metavar="WORDS", help=f'{ALLOWED}, or "pedal E3"')
    parser.add_argument(
        "--from-tab", action="store_true", help="the other way round: find the harmony block that plays a written part"
    )
    parser.add_argument(
        "--as", metavar="PART", dest="name", default="guitar 2", help="the part that plays it (guitar 2)"
    )
    parser.add_argument("--near", metavar="FRET", type=int, help="stay close to this fret")
    parser.add_argument("--contrary", action="store_true", help="move against the line, from the interval on")
    parser.add_argument(
        "--avoid", metavar="PART|chord", action="append", help="change what clashes with this part, or the chord"
    )
    parser.add_argument("--write", action="store_true", help="put a harmony block into the file")
    parser.add_argument("--replace", action="store_true", help="write over a part of that name")
    parser.add_argument("--write-tab", action="store_true", help="put the computed line into the file as a tab")


def run(arguments: argparse.Namespace) -> int:
    """Compute it in every riff that has the line."""
    chosen = choose(arguments)
    line = arguments.part or "guitar 1"
    arguments.name = " ".join(arguments.name.split())
    if not arguments.name or not arguments.name.isprintable():
        raise CallError('--as needs a part\'s name of plain characters, such as "guitar 2".')
    if arguments.name == line:
        raise CallError(f"--as cannot be {line}: a harmony does not follow itself.")
    if arguments.from_tab == bool(arguments.interval):
        raise CallError('harmonise needs --interval, such as "third above", or --from-tab, and not both.')
    riffs = [riff for riff in chosen.riffs if arguments.riff or riff.part(line) is not None]
    work = _found if arguments.from_tab else _one
    results = [work(chosen, riff, line, arguments) for riff in riffs]
    if not riffs:
        raise CallError(f'no riff has a part "{line}".')
    if arguments.json:
        say_json(results)
    return DONE


def _one(chosen: Chosen, riff: Riff, line: str, arguments: argparse.Namespace) -> dict[str, object]:
    asked = _asked(line, arguments)
    # What is shown is what the file would say: the block is put into its text and read back.
    content = harmony_text(asked, riff).rstrip("\n").split("\n")
    text = put_block(chosen.file.text, riff.name, "harmony", asked.name, content, file=str(chosen.path))
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
        for change in (*changes, *_told(lead, told.riff, asked)):
            say(change)
    if arguments.write_tab or arguments.write:
        _spare(chosen, riff, with_block if arguments.write else told.riff, arguments)
    if arguments.write_tab:
        chosen.save_tab(told.riff, answer)
    elif arguments.write:
        chosen.save_text(text, riff, asked)
    intervals = [{**plain_data(one), "name": one.name, "number": one.number, "above": one.above} for one in shared]
    return {"riff": riff.name, "part": asked.name, "tab": tab, "intervals": intervals, "changes": list(changes)}


def _found(chosen: Chosen, riff: Riff, line: str, arguments: argparse.Namespace) -> dict[str, object]:
    """The harmony block that plays what a part's tab says; written in the tab's place where it is shorter."""
    lead, written = riff.part(line), riff.part(arguments.name)
    if not isinstance(lead, TabPart) or not isinstance(written, TabPart):
        raise CallError(f"{riff.name} has no two parts {line} and {arguments.name} on strings.")
    found = fit_harmony(lead, written, riff)
    if isinstance(found, HarmonyMisfit):
        told = [misfit_sentence(found, line, arguments.name)]
        block: list[str] = []
    else:
        block = harmony_text(found.part, riff).rstrip("\n").split("\n")
        tab = tab_lines(written, riff)
        shorter = sum(map(len, block)) < sum(map(len, tab))
        told = list(fit_sentences(found, riff)) if shorter else [*fit_sentences(found, riff)[:1], _LONGER]
        block = block if shorter else []
    if not arguments.json:
        say(riff.name, strong=True)
        for row in block:
            say("  " + row)
        for sentence in told:
            say(sentence)
    if arguments.write and block and not isinstance(found, HarmonyMisfit):
        own = chosen.written.riff(riff.name)
        if own is not None and isinstance(own.part(arguments.name), TabPart):
            if not arguments.replace:
                raise CallError(
                    f"{arguments.name} of {riff.name} is written out. Nothing is written; "
                    "--replace puts the harmony block in the tab's place."
                )
            text = put_block(chosen.file.text, riff.name, "harmony", arguments.name, block, file=str(chosen.path))
            chosen.save_text(text, riff, found.part)
    return {"riff": riff.name, "part": arguments.name, "block": block, "sentences": told}


_LONGER = "With so many exceptions the block is no shorter than the tab: leave it written out."


def _told(line: TabPart, riff: Riff, asked: HarmonyPart) -> Iterator[str]:
    """What to know about the answer: how notes outside the key are answered, and chord names that nothing avoids."""
    keys = {name.semitone for name in parent(riff.key).names}
    names = {
        str(spell(riff.key, midi).name)
        for bar in line.bars
        for moment in bar
        for note in moment.notes
        if note.touch is not Touch.DEAD and (midi := note_midi(line.instrument, note)) % 12 not in keys
    }
    if names and isinstance(asked.distance, Distance) and asked.distance.exact is None:
        yield (
            f"{', '.join(sorted(names))} outside {riff.key}: from there to the bar's end the harmony plays that degree "
            "the same way; fourths and fifths of it stay perfect."
        )
    if CHORD in asked.avoid:
        for bar, _, name in unknown_chord_names(riff):
            yield f'The chord name "{name}" in bar {bar} is not one that is known here: nothing is avoided there.'


def _spare(chosen: Chosen, riff: Riff, changed: Riff, arguments: argparse.Namespace) -> None:
    """Refuse to write over a part of that name which says something else. Raises CallError."""
    written = chosen.written.riff(riff.name)
    there = written.part(arguments.name) if written else None
    if there is not None and there != changed.part(arguments.name) and not arguments.replace:
        kind = "harmony" if isinstance(there, HarmonyPart) else "tab"
        raise CallError(
            f"{riff.name} has a {kind} {arguments.name} already. Nothing is written; "
            "--replace writes over it, --as names another part."
        )


def _counted(names: list[str]) -> str:
    """Names with how often each comes: "m3 12 times, M3 4 times"."""
    counts = Counter(names).most_common()
    return ", ".join(f"{name} {count} {'time' if count == 1 else 'times'}" for name, count in counts) or "none shared"


def _asked(line: str, arguments: argparse.Namespace) -> HarmonyPart:
    try:
        distance = parse_distance(" ".join(arguments.interval.split()))
    except ValueError:
        meant = likely_interval(arguments.interval)
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
