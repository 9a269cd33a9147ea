"""`twinspur takes`: the kept takes: list them, hear one again, mark, compare, export and delete."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.line import DONE, CallError
from trainer.commands.replacing import replace_option
from trainer.commands.terminal import say, say_json, table
from trainer.music.printable import printable

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.listening.takes import KeptTake, Takes

HEAD = ("", "take", "exercise", "riff", "part", "bars", "tempo", "verdict", "spread", "gallop", "")
LONGEST_COMMENT = 2000
"""Characters, as in a set."""
SHOWN = 30
"""Takes that the list shows, the newest first."""


def options(parser: argparse.ArgumentParser) -> None:
    """The take to play, mark, export, delete or compare; without one they are listed."""
    parser.epilog = "TAKE is a take's name, which stays, or its number in the list, which grows with each new take."
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--play", metavar="TAKE", help="hear a take against the click and the written part")
    one.add_argument("--mark", metavar="TAKE", help="mark a take: it is never deleted to make room")
    one.add_argument("--unmark", metavar="TAKE", help="take the mark away")
    one.add_argument("--export", metavar=("TAKE", "FILE"), nargs=2, help="copy a take into a file or a folder")
    one.add_argument("--delete", metavar="TAKE", help="delete a take")
    one.add_argument(
        "--comment", metavar=("TAKE", "TEXT"), nargs=2, help="say something about a take; it stays with it"
    )
    one.add_argument("--uncomment", metavar="TAKE", help="take away what you said about a take")
    one.add_argument(
        "--duo", metavar=("TAKE", "TAKE"), nargs=2, help="hear two takes of one riff together, left and right, as --out"
    )
    one.add_argument("--compare", metavar=("TAKE", "TAKE"), nargs=2, help="what changed from the older to the newer")
    parser.add_argument("--out", metavar="FILE", type=Path, help="with --play or --duo: the file to write")
    replace_option(parser)
    parser.add_argument("--alone", action="store_true", help="with --play: the take without click and part")
    parser.add_argument("--all", action="store_true", help=f"list every take, not only the newest {SHOWN}")
    parser.add_argument("--json", action="store_true", help="print the list, or the comparison, as JSON")


def run(arguments: argparse.Namespace) -> int:
    """List them, or do one thing with one of them."""
    from trainer.commands.own_machine import machine

    takes = machine().takes()
    for option, act in _ACTS.items():
        if getattr(arguments, option):
            return act(takes, arguments)
    return _list(takes, everything=arguments.all, as_json=arguments.json)


def _play(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take
    from trainer.commands.replaying import replay

    take = find_take(takes, arguments.play)
    return replay(take, arguments.out, alone=arguments.alone, replace=arguments.replace)


def _mark(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take

    take = find_take(takes, arguments.mark or arguments.unmark)
    takes.mark(take.name, marked=bool(arguments.mark))
    say(f"{take.name} is {'marked: it stays' if arguments.mark else 'no longer marked'}.")
    return DONE


def _comment(takes: "Takes", arguments: argparse.Namespace) -> int:
    """Say something about a take."""
    from trainer.commands.kept import find_take
    from trainer.listening.take_info import TakeComment

    word, text = arguments.comment
    take = find_take(takes, word)
    if not text.strip() or len(text) > LONGEST_COMMENT:
        raise CallError(f"A comment has 1 to {LONGEST_COMMENT} characters.")
    takes.comment(take.name, TakeComment(text.strip()))
    whose = f" by {printable(take.info.player)}" if take.info.player else ""
    say(f"Said about {take.name}{whose}. To send it: twinspur pack --comments {take.name} --out FILE.")
    return DONE


def _uncomment(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take

    take = find_take(takes, arguments.uncomment)
    takes.uncomment(take.name, "")
    say(f"What you said about {take.name} is taken away.")
    return DONE


def _duo(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.duo_takes import write_duo
    from trainer.commands.kept import find_take

    one, other = (find_take(takes, word) for word in arguments.duo)
    return write_duo(one, other, arguments.out, replace=arguments.replace)


def _export(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take

    take = find_take(takes, arguments.export[0])
    target = Path(arguments.export[1])
    if not target.is_dir() and target.suffix.casefold() != take.sound.suffix:
        raise CallError(f"--export cannot be {target}: a file ending in {take.sound.suffix}, or a folder.")
    say(f"{takes.export(take.name, target)}: {take.info.what}.")
    return DONE


def _delete(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take

    take = find_take(takes, arguments.delete)
    takes.delete(take.name)
    say(f"{take.name} is deleted: {take.info.what}.")
    return DONE


def _compare(takes: "Takes", arguments: argparse.Namespace) -> int:
    from trainer.commands.kept import find_take

    return _compared(*(find_take(takes, word) for word in arguments.compare), as_json=arguments.json)


_ACTS: "dict[str, Callable[[Takes, argparse.Namespace], int]]" = {
    "play": _play, "mark": _mark, "unmark": _mark, "comment": _comment, "uncomment": _uncomment, "duo": _duo,
    "export": _export, "delete": _delete, "compare": _compare,
}  # fmt: skip
"""What each option does; at most one is given."""


def _list(takes: "Takes", *, everything: bool, as_json: bool) -> int:
    from trainer.commands.kept import newest_first

    found = newest_first(takes)
    if as_json:
        say_json([_plain(number, take) for number, take in enumerate(found, 1)])
        return DONE
    if not found:
        say("No take is kept yet. Play with twinspur listen.")
        return DONE
    rows: list[tuple[str, ...]] = [HEAD]
    shown = found if everything else found[:SHOWN]
    rows += [_row(number, take) for number, take in enumerate(shown, 1)]
    for line in table(rows, right=frozenset({0, 6, 8, 9})):
        say(line)
    for take in shown:
        for comment in take.info.comments:
            who = printable(comment.teacher or "you")
            say(f"  {take.name}, {who}: {printable(comment.text)}")
    filled = sum(take.size for take in found) / (1 << 20)
    more = f" (the newest {SHOWN} are shown)" if len(shown) < len(found) else ""
    say(f"\n{len(found)} takes{more}, {filled:.1f} of {takes.limit_bytes / (1 << 20):.0f} MiB.")
    return DONE


def _row(number: int, take: "KeptTake") -> tuple[str, ...]:
    info = take.info
    measured = take.verdict.measured if take.verdict else None
    spread = f"{measured.spread_ms:.1f} ms" if measured and measured.spread_ms is not None else "-"
    gallop = f"{measured.gallop_ratio:.2f}" if measured and measured.gallop_ratio is not None else "-"
    told = str(take.verdict.outcome) if take.verdict else "-"
    told += " (unfinished)" if info.unfinished else ""
    bpm = "-" if info.tempo_bpm is None else f"{info.tempo_bpm:g}"
    names = (info.exercise or "-", info.riff or ("form" if info.form else "-"), info.part or "-")
    return (str(number), take.name, *names, info.bars, bpm, told, spread, gallop, "marked" if take.marked else "")


def _plain(number: int, take: "KeptTake") -> dict[str, Any]:
    return {
        "number": number,
        "name": take.name,
        "file": str(take.sound),
        "bytes": take.size,
        "marked": take.marked,
        **take.info.as_json(),
        "verdict": take.verdict.as_dict() if take.verdict else None,
    }


def _compared(one: "KeptTake", other: "KeptTake", *, as_json: bool) -> int:
    """What changed from the earlier take to the later one, whichever was named first."""
    from trainer.listening.comparison import beside_earlier, figures_beside

    before, after = sorted((one, other), key=lambda take: take.name)
    missing = next((take for take in (before, after) if take.verdict is None), None)
    if before.verdict is None or after.verdict is None:
        raise CallError(f"{missing.name if missing else before.name} was not judged: there is nothing to compare.")
    sentences = beside_earlier(before.verdict, after.verdict) or ("One of them could not be followed.",)
    if as_json:
        say_json({"before": before.name, "after": after.name, "sentences": list(sentences)})
        return DONE
    rows = [("", "before", "after"), ("take", before.name, after.name)]
    rows += [("of", before.info.what, after.info.what), *figures_beside(before.verdict, after.verdict)]
    for line in table(rows):
        say(line)
    for sentence in sentences:
        say(sentence)
    return DONE
