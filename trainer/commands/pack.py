"""`twinspur pack`: exercises, assignments, takes and comments in one file to send."""

import argparse
from pathlib import Path

from trainer.commands.kept import find_take
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import say
from trainer.exchange.set_file import ENDING, SET_NAME, write_set
from trainer.music.printable import printable
from trainer.places import config_folder
from trainer.session.set_packing import SetRequest, packed


def options(parser: argparse.ArgumentParser) -> None:
    """What goes into the set, what it is called, and where it is written."""
    parser.add_argument("exercises", metavar="EXERCISE", nargs="*", help="exercises to pack, by id or path")
    parser.add_argument("--assignments", metavar="FILE", type=Path, help="what you ask for; its exercises are packed")
    parser.add_argument(
        "--takes", metavar="TAKE", nargs="+", default=[], help="kept takes to send, with their verdicts"
    )
    parser.add_argument("--comments", metavar="TAKE", nargs="+", default=[], help="send back what was said about takes")
    parser.add_argument(
        "--plays", metavar="PLAYER=PART", action="append", default=[], help='who plays what, as "Ana=guitar 2"'
    )
    parser.add_argument("--from", metavar="NAME", dest="sender", default="", help="who sends it")
    parser.add_argument("--name", metavar="NAME", help="the set's name (the file's, without its ending)")
    parser.add_argument("--out", metavar="FILE", type=Path, required=True, help=f"the file, ending in {ENDING}")
    replace_option(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the set and say what is in it: nothing goes along that is not named."""
    out: Path = arguments.out
    if out.suffix.casefold() != ENDING:
        raise CallError(f"--out cannot be {out}: a file ending in {ENDING}.")
    name = arguments.name or out.stem
    if not SET_NAME.fullmatch(name):
        raise CallError(f'a set cannot be called "{name}": letters, digits, spaces and hyphens. Say another --name.')
    check_free(out, replace=arguments.replace)
    mine, takes = machine(), machine().takes()
    commented = [find_take(takes, word) for word in arguments.comments]
    for take in commented:
        if not take.info.comments:
            raise CallError(f"Nothing was said about {take.name} yet: twinspur takes --comment {take.name} TEXT.")
    request = SetRequest(
        name,
        arguments.exercises,
        arguments.assignments,
        [find_take(takes, word) for word in arguments.takes],
        commented,
        arguments.sender,
        dict(_player(word) for word in arguments.plays),
    )
    manifest = write_set(out, *packed(mine, request, config_folder() / "patches"))
    say(f'{out}: the set "{manifest.name}", {out.stat().st_size / 1024:.0f} KiB.')
    for each in manifest.files:
        say(f"  {printable(each.name)}")
    for comment in manifest.comments:
        say(f"  a comment on the take {printable(comment.take)}")
    for player, part in manifest.plays.items():
        say(f"  {printable(player)} plays {printable(part)}")
    return DONE


def _player(word: str) -> tuple[str, str]:
    """A player and a part. Raises CallError."""
    player, equals, part = word.partition("=")
    if not equals or not player.strip() or not part.strip():
        raise CallError(f'--plays cannot be "{word}": a player and a part, as "Ana=guitar 2".')
    return player.strip(), part.strip()
