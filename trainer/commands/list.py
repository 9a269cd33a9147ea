"""`twinspur list`: the exercises."""

import argparse

from trainer.commands.exercises import library
from trainer.commands.line import DONE
from trainer.commands.terminal import say, say_json, table
from trainer.notation.head import Head


def options(parser: argparse.ArgumentParser) -> None:
    """Words and tags that narrow the list down."""
    parser.add_argument("words", metavar="WORD", nargs="*", help="only exercises that have every word somewhere")
    parser.add_argument("--tag", metavar="TAG", help="only exercises with this tag")
    parser.add_argument("--json", action="store_true", help="print the list as JSON")


def run(arguments: argparse.Namespace) -> int:
    """List them."""
    shelf = library()
    heads = [head for head in shelf.heads() if _wanted(head, arguments.words, arguments.tag)]
    if arguments.json:
        say_json([head.as_json() for head in heads])
        return DONE
    if not heads:
        say("No exercise matches." if arguments.words or arguments.tag else "No exercises.")
        return DONE
    rows = [("id", "title", "key", "start", "target", "tags"), *(_row(head) for head in heads)]
    for line in table(rows, right=frozenset({3, 4})):
        say(line)
    for head in heads:
        if head.problem:
            say(head.problem)
    return DONE


def _row(head: Head) -> tuple[str, ...]:
    if head.problem:
        head = head._replace(tags=("cannot be read",))
    start = f"{head.start_bpm:g}" if head.start_bpm else "-"
    target = f"{head.target_bpm:g}" if head.target_bpm else "-"
    return (head.id, head.title, head.key, start, target, ", ".join(head.tags))


def _wanted(head: Head, words: list[str], tag: str | None) -> bool:
    text = " ".join([head.id, head.title, head.by, head.key, *head.tags, *head.riffs]).casefold()
    tags = {tag.casefold() for tag in head.tags}
    return all(word.casefold() in text for word in words) and (tag is None or tag.casefold() in tags)
