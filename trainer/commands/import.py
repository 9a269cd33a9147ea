"""`twinspur import`: an exercise from a score that another program wrote."""  # noqa: N999 - the command bears the name

import argparse
from dataclasses import replace
from pathlib import Path

from trainer.commands.line import DONE, CallError
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import complain, say
from trainer.exchange.any_score import read_score, score_bytes, with_parts
from trainer.exchange.assemble import assemble
from trainer.notation.files import save
from trainer.notation.read import read
from trainer.notation.write import write

MOST_LINES = 40
"""Changes that are listed where not all are asked for."""


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `import` to its parser."""
    parser.add_argument("file", metavar="FILE", type=Path, help="a score in MusicXML")
    parser.add_argument("--out", metavar="FILE", type=Path, required=True, help="the new exercise, ending in .md")
    parser.add_argument("--title", default="", help="the exercise's title (the score's)")
    parser.add_argument(
        "--parts", metavar="NAME,…", default="", help="parts by name or number (guitars, bass and drums)"
    )
    parser.add_argument("--all", action="store_true", help=f"list every change, not {MOST_LINES} at most")
    replace_option(parser)


def run(arguments: argparse.Namespace) -> int:
    """Read the score, write the exercise; what was changed goes to standard error, with its places."""
    out: Path = arguments.out
    if out.suffix.casefold() != ".md":
        raise CallError(f"--out cannot be {out}: a file ending in .md.")
    title = " ".join(arguments.title.split())
    if not title.isprintable():
        raise CallError("--title needs a text of plain characters.")
    check_free(out, replace=arguments.replace)
    file = str(arguments.file)
    score = read_score(score_bytes(arguments.file), file)
    wanted = [name for name in (" ".join(each.split()) for each in arguments.parts.split(",")) if name]
    score = with_parts(replace(score, title=title) if title else score, wanted, file)
    made = assemble(score)
    text = write(made.exercise)
    read(text, str(out))  # so that nothing is handed on that cannot be read
    save(out, text)
    for told in score.told:
        complain(f"{file}: {told}.")
    shown = made.changes if arguments.all else made.changes[:MOST_LINES]
    for change in shown:
        complain(f"{file}: {change}")
    if len(shown) < len(made.changes):
        complain(f"{len(made.changes) - len(shown)} more changes; --all lists them.")
    riffs = made.exercise.riffs
    bars = sum(len(riff.meters) for riff in riffs)
    names = ", ".join(made.exercise.part_names)
    say(f"{out} is written: {_many(len(riffs), 'riff')}, {_many(bars, 'bar')}, {names}.")
    return DONE


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
