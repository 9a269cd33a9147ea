"""`twinspur new`: begin an exercise as a file with its counts laid out."""

import argparse
import re
from pathlib import Path

from trainer.commands.line import DONE, CallError
from trainer.commands.read_tab import meter_of, tempo_of, tuning_of
from trainer.commands.terminal import say
from trainer.music.exercise import COMMON_TIME
from trainer.music.instrument import STANDARD
from trainer.music.key import Key
from trainer.notation.blank import FIGURES, MOST_BARS, Blank, blank_exercise
from trainer.notation.files import save
from trainer.notation.front import DEFAULT_KEY
from trainer.notation.likely import likely_key
from trainer.notation.read import read
from trainer.places import data_folder

MOST_TITLE = 80
"""Characters of a title."""


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `new` to its parser."""
    parser.add_argument("title", metavar="TITLE", help="the exercise's title")
    parser.add_argument("--parts", default="guitar 1", help="such as 'guitar 1, guitar 2, bass, drums'")
    parser.add_argument("--meter", default="4/4", help="such as 4/4, 7/8 or 12/8")
    parser.add_argument("--bars", type=int, default=4, help=f"how many bars are laid out, 1 to {MOST_BARS}")
    parser.add_argument("--figure", default="beats", choices=tuple(FIGURES), help="the rhythm of the counts laid out")
    parser.add_argument("--key", default=str(DEFAULT_KEY), help="such as 'E aeolian'")
    parser.add_argument("--tempo", default="", help="the target tempo in bpm")
    parser.add_argument("--tuning", default="", help="the open strings, low to high, such as 'D2 A2 D3 G3 B3 E4'")
    parser.add_argument("--out", metavar="FILE", type=Path, help="the file; else one in your own exercise folder")


def run(arguments: argparse.Namespace) -> int:
    """Write the file and say where it is; an existing one is left as it is."""
    blank = _blank(arguments)
    path = arguments.out or data_folder() / "exercises" / f"{blank.id}.md"
    if path.suffix != ".md":
        raise CallError(f"{path}: the name of an exercise file ends in .md.")
    if path.exists():
        raise CallError(f"{path} exists. Name another with --out, or choose another title.")
    try:
        text = blank_exercise(blank)
    except ValueError:
        raise CallError(f"A {blank.figure} cannot be counted in {blank.meter}. Choose another --figure.") from None
    read(text, str(path))  # so that nothing is written that cannot be read
    if not arguments.out:
        path.parent.mkdir(parents=True, exist_ok=True)
    save(path, text)
    say(f"{path} is written: fill it in with any editor.")
    say(f"twinspur check --watch {path} tells at each save what is wrong in it.")
    return DONE


def _blank(arguments: argparse.Namespace) -> Blank:
    title = " ".join(arguments.title.split())
    name = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
    if not title.isprintable() or not name or len(title) > MOST_TITLE:
        raise CallError(f"A title has at least one letter or digit, and at most {MOST_TITLE} characters.")
    parts = tuple(dict.fromkeys(" ".join(part.split()) for part in arguments.parts.split(",")))
    if not all(part.isprintable() and part and "`" not in part for part in parts):
        raise CallError("--parts takes names with commas between them, such as 'guitar 1, bass'.")
    if not 1 <= arguments.bars <= MOST_BARS:
        raise CallError(f"--bars cannot be {arguments.bars}: 1 to {MOST_BARS}.")
    try:
        key = Key.parse(arguments.key)
    except ValueError:
        meant = likely_key(arguments.key)
        hint = f'Did you mean "{meant}"?' if meant else "Write a note and a mode, such as E aeolian."
        raise CallError(f'--key "{arguments.key}" is not a key. {hint}') from None
    return Blank(
        title=title,
        id=name,
        key=key,
        meter=meter_of(arguments.meter) or COMMON_TIME,
        tempo=tempo_of(arguments.tempo),
        parts=parts,
        bars=arguments.bars,
        figure=arguments.figure,
        tuning=tuning_of(arguments.tuning) or STANDARD,
    )
