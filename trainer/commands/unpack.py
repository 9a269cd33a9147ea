"""`twinspur unpack`: a set that somebody sent: what it would add, adding it, and taking it away again."""

import argparse
import sys
from pathlib import Path

from trainer.commands.assign import tell
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.record import now
from trainer.commands.terminal import say, table
from trainer.exchange.set_file import read_set
from trainer.music.printable import printable
from trainer.places import config_folder, data_folder, sets_folder
from trainer.session.sets import Additions, add, additions, installed, remove


def options(parser: argparse.ArgumentParser) -> None:
    """The set, or what to take away; without one of them the sets are listed."""
    parser.add_argument(
        "file", metavar="FILE", type=Path, nargs="?", help="the set; without one, those here are listed"
    )
    parser.add_argument("--yes", action="store_true", help="add it without asking")
    parser.add_argument("--player", metavar="NAME", default="", help="set only what this player is asked for")
    parser.add_argument("--remove", metavar="NAME", help="take a set away, with all that came in it")


def run(arguments: argparse.Namespace) -> int:
    """Say what the set would add, ask, and add it whole or not at all; or take one away."""
    if arguments.remove is not None:
        if arguments.file is not None:
            raise CallError("--remove takes a set away, a file adds one: give one of the two.")
        return _remove(arguments.remove)
    if arguments.file is None:
        return _list()
    at = now()
    new = additions(machine(), read_set(arguments.file), sets_folder(), arguments.player, at)
    _tell(new, arguments.player)
    if not arguments.yes and not _agreed():
        say("Nothing was added. To add it: --yes.")
        return DONE
    add(machine(), new, sets_folder(), _own_folders(), at)
    name = new.opened.manifest.name
    say(f'\nAdded. To take all of it away again: twinspur unpack --remove "{name}".')
    return DONE


def _own_folders() -> tuple[Path, Path]:
    """Where the player's own exercises and patches are."""
    return data_folder() / "exercises", config_folder() / "patches"


def _agreed() -> bool:
    """Ask, where somebody can answer."""
    if not sys.stdin.isatty():
        return False
    try:
        return input("\nAdd it? y or n: ").strip().casefold() in {"y", "yes"}
    except EOFError:
        return False


def _tell(new: Additions, player: str) -> None:
    manifest = new.opened.manifest
    sender = f" from {printable(manifest.sender)}" if manifest.sender else ""
    say(f'The set "{printable(manifest.name)}"{sender} would add:')
    for exercise in new.exercises:
        say(f"  the exercise {printable(exercise.id)}: {printable(exercise.title)}")
    for name in new.patches:
        say(f"  the patch {printable(name)}")
    for take in new.takes:
        say(f"  the take {take.name}: {printable(take.info.what)}")
    for name, comment in new.comments:
        say(f"  a comment on your take {name}: {printable(comment.text)}")
    if new.assignments:
        say()
        tell(new.assignments)
    if not (new.exercises or new.patches or new.takes or new.comments or new.assignments):
        say("  nothing that is not here already")
    for name in new.known:
        say(f"You have the exercise {printable(name)} already, the same.")
    if new.lost:
        say(f"Comments on takes that are not kept here any more: {new.lost}.")
    if manifest.bank:
        say(f"It was made with the sound bank {printable(manifest.bank)}, which is not in it: yours plays.")
    for name, part in manifest.plays.items():
        mine = " (you)" if name == player else ""
        say(f"{printable(name)} plays {printable(part)}{mine}.")
    if manifest.plays and not player and new.assignments:
        say("Every part is set. With --player NAME only that player's.")


def _list() -> int:
    found = installed(sets_folder())
    if not found:
        say("No set was unpacked. Add one: twinspur unpack FILE.")
        return DONE
    rows: list[tuple[str, ...]] = [("set", "from", "exercises", "takes", "comments")]
    for each in found:
        kinds = [file.name.partition("/")[0] for file in each.files if not file.name.endswith(".json")]
        counts = (kinds.count("exercises"), kinds.count("takes"), len(each.comments))
        rows.append((each.name, each.sender or "-", *(str(count) for count in counts)))
    for line in table(rows, right=frozenset({2, 3, 4})):
        say(line)
    return DONE


def _remove(name: str) -> int:
    gone = remove(machine(), name, sets_folder(), _own_folders())
    say(f'The set "{printable(name)}" is taken away: assignments {gone.assignments}, takes {gone.takes}.')
    for path in gone.kept:
        say(f"You had changed {printable(path.name)}: it is kept as {printable(str(path))}.")
    say("What you practised stays in the log.")
    return DONE
