"""`twinspur takes`: the kept takes: list them, hear one again, mark, compare, export and delete."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say, say_json, table

if TYPE_CHECKING:
    from trainer.listening.takes import KeptTake, Takes

HEAD = ("", "take", "exercise", "riff", "part", "bars", "tempo", "verdict", "spread", "gallop", "")
SHOWN = 30
"""Takes that the list shows, the newest first."""


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--play", metavar="N", help="hear a take against the click and the written part")
    one.add_argument("--mark", metavar="N", help="mark a take: it is never deleted to make room")
    one.add_argument("--unmark", metavar="N", help="take the mark away")
    one.add_argument("--export", metavar=("N", "FILE"), nargs=2, help="copy a take into a file or a folder")
    one.add_argument("--delete", metavar="N", help="delete a take")
    one.add_argument("--compare", metavar=("N", "M"), nargs=2, help="what changed from the older to the newer")
    parser.add_argument("--out", metavar="FILE", type=Path, help="with --play: write what would be heard to a file")
    parser.add_argument("--alone", action="store_true", help="with --play: the take without click and part")
    parser.add_argument("--all", action="store_true", help=f"list every take, not only the newest {SHOWN}")
    parser.add_argument("--json", action="store_true", help="print the list, or the comparison, as JSON")


def run(arguments: argparse.Namespace) -> int:
    """List them, or do one thing with one of them; a number is a place in the list, 1 the newest."""
    from trainer.commands.kept import find_take, open_takes
    from trainer.settings import load_settings

    takes = open_takes(load_settings())
    if arguments.play:
        from trainer.commands.replaying import replay

        return replay(find_take(takes, arguments.play), arguments.out, alone=arguments.alone)
    for word, marked in ((arguments.mark, True), (arguments.unmark, False)):
        if word:
            take = find_take(takes, word)
            takes.mark(take.name, marked=marked)
            say(f"{take.name} is {'marked: it stays' if marked else 'no longer marked'}.")
            return DONE
    if arguments.export:
        take = find_take(takes, arguments.export[0])
        target = Path(arguments.export[1])
        if not target.is_dir() and target.suffix.casefold() != take.sound.suffix:
            raise CallError(f"--export cannot be {target}: a file ending in {take.sound.suffix}, or a folder.")
        say(f"{takes.export(take.name, target)}: {take.what}.")
        return DONE
    if arguments.delete:
        take = find_take(takes, arguments.delete)
        takes.delete(take.name)
        say(f"{take.name} is deleted: {take.what}.")
        return DONE
    if arguments.compare:
        return _compare(*(find_take(takes, word) for word in arguments.compare), as_json=arguments.json)
    return _list(takes, everything=arguments.all, as_json=arguments.json)


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
    filled = sum(take.size for take in found) / (1 << 20)
    more = f" (the newest {SHOWN} are shown)" if len(shown) < len(found) else ""
    say(f"\n{len(found)} takes{more}, {filled:.1f} of {takes.limit_bytes / (1 << 20):.0f} MiB.")
    return DONE


def _row(number: int, take: "KeptTake") -> tuple[str, ...]:
    first, last = take.value("first_bar"), take.value("last_bar")
    bars = "-" if first is None else f"{first}" if first == last else f"{first}-{last}"
    measured = take.verdict.measured if take.verdict else None
    spread = f"{measured.spread_ms:.1f} ms" if measured and measured.spread_ms is not None else "-"
    gallop = f"{measured.gallop_ratio:.2f}" if measured and measured.gallop_ratio is not None else "-"
    tempo = take.value("tempo_bpm")
    names = tuple(
        str(take.value(key) or ("form" if key == "riff" and take.about.get("form") else "-"))
        for key in ("exercise", "riff", "part")
    )
    told = str(take.verdict.outcome) if take.verdict else "-"
    told += " (unfinished)" if take.about.get("unfinished") else ""
    bpm = f"{tempo:g}" if isinstance(tempo, int | float) else "-"
    return (str(number), take.name, *names, bars, bpm, told, spread, gallop, "marked" if take.marked else "")


def _plain(number: int, take: "KeptTake") -> dict[str, Any]:
    return {
        "number": number,
        "name": take.name,
        "file": str(take.sound),
        "bytes": take.size,
        "marked": take.marked,
        **take.about,
        "verdict": take.verdict.as_dict() if take.verdict else None,
    }


def _compare(one: "KeptTake", other: "KeptTake", *, as_json: bool) -> int:
    """What changed from the earlier take to the later one, whichever was named first."""
    from trainer.listening.earlier import beside_earlier, figures_beside

    before, after = sorted((one, other), key=lambda take: take.name)
    missing = next((take for take in (before, after) if take.verdict is None), None)
    if before.verdict is None or after.verdict is None:
        raise CallError(f"{missing.name if missing else before.name} was not judged: there is nothing to compare.")
    sentences = beside_earlier(before.verdict, after.verdict) or ("One of them could not be followed.",)
    if as_json:
        say_json({"before": before.name, "after": after.name, "sentences": list(sentences)})
        return DONE
    rows = [("", "before", "after"), ("take", before.name, after.name)]
    rows += [("of", before.what, after.what), *figures_beside(before.verdict, after.verdict)]
    for line in table(rows):
        say(line)
    for sentence in sentences:
        say(sentence)
    return DONE
