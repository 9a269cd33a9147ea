"""`twinspur read-tab`: an exercise from plain tab, as it is typed in mail and on forums."""

import argparse
import sys
from fractions import Fraction
from pathlib import Path

from trainer.commands.line import DONE, CallError
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import complain, say
from trainer.music.meter import Meter
from trainer.music.pitch import Pitch
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM, Tempo
from trainer.notation.files import file_text, save
from trainer.notation.front import DEFAULT_TEMPO
from trainer.notation.plain_exercise import Wishes, read_plain
from trainer.notation.read import read
from trainer.notation.write import write

MOST_BYTES = 1024 * 1024
"""Size of a text that is read."""


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `read-tab` to its parser."""
    parser.add_argument("file", metavar="FILE", help="a text with plain tab; - reads standard input")
    parser.add_argument("--title", default="Untitled", help="the exercise's title")
    parser.add_argument("--part", default="", help="the part's name (guitar 1; bass for four or five strings)")
    parser.add_argument("--meter", default="", help="such as 4/4 or 12/8; else the counts or the spacing decide")
    parser.add_argument("--tempo", default="", help="the target tempo in bpm")
    parser.add_argument("--tuning", default="", help="the open strings, low to high, such as 'D2 A2 D3 G3 B3 E4'")
    parser.add_argument("--finest", type=int, choices=(4, 8, 12, 16, 24, 32), help="the shortest note there may be")
    parser.add_argument("--out", metavar="FILE", type=Path, help="write it here; else it is printed")
    replace_option(parser)


def run(arguments: argparse.Namespace) -> int:
    """Read the tab; what was guessed goes to standard error."""
    if arguments.out:
        check_free(arguments.out, replace=arguments.replace)
    if arguments.file == "-":
        name, text = "standard input", sys.stdin.read(MOST_BYTES)
    else:
        name, text = arguments.file, file_text(Path(arguments.file), limit=MOST_BYTES)
    exercise, guesses = read_plain(text, _wishes(arguments), name)
    for guess in guesses:
        complain(f"{name}: {guess}")
    written = write(exercise)
    read(written, arguments.title)  # so that nothing is handed on that cannot be read
    if arguments.out:
        save(arguments.out, written)
        say(f"{arguments.out} is written.")
    else:
        sys.stdout.write(written)
    return DONE


def _wishes(arguments: argparse.Namespace) -> Wishes:
    title = " ".join(arguments.title.split())
    if not title.isprintable() or not title:
        raise CallError("--title needs a text of plain characters.")
    return Wishes(
        title=title,
        part=" ".join(arguments.part.split()),
        meter=meter_of(arguments.meter),
        tempo=tempo_of(arguments.tempo),
        tuning=tuning_of(arguments.tuning),
        finest=arguments.finest,
    )


def meter_of(text: str) -> Meter | None:
    """The meter that an option gives; None where it gives none."""
    if not text:
        return None
    try:
        return Meter.parse(text)
    except ValueError:
        raise CallError(f'--meter "{text}" is not a meter, such as 4/4 or 7/8.') from None


def tempo_of(text: str) -> Tempo:
    """A climb to the tempo that an option gives, from two thirds of it; 80 to 120 where it gives none."""
    if not text:
        return DEFAULT_TEMPO
    try:
        target = int(text)
    except ValueError:
        target = 0
    if len(text) > 3 or not SLOWEST_BPM <= target <= FASTEST_BPM:
        raise CallError(f'--tempo "{text}" is not a tempo: {SLOWEST_BPM} to {FASTEST_BPM} bpm.')
    return Tempo(Fraction(max(SLOWEST_BPM, target * 2 // 3)), Fraction(target))


def tuning_of(text: str) -> tuple[str, ...]:
    """The open strings that an option gives, low to high; none where it gives none."""
    try:
        return tuple(str(Pitch.parse(name)) for name in text.split())
    except ValueError:
        raise CallError(
            f'--tuning "{text}" is not a tuning: open strings, low to high, such as E2 A2 D3 G3 B3 E4.'
        ) from None
