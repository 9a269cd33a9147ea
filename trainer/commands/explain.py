"""`twinspur explain`: what a riff is made of, in the words of a teacher."""

import argparse
from itertools import groupby
from textwrap import fill

from trainer.arranging.explain import explain
from trainer.arranging.plain_data import plain_data
from trainer.arranging.sentences import sentences
from trainer.commands.arranging import arranging_options, choose
from trainer.commands.line import DONE
from trainer.commands.terminal import say, say_json

WIDTH = 80
"""Columns of the page."""


def options(parser: argparse.ArgumentParser) -> None:
    """The riffs and parts to explain."""
    arranging_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Explain each riff, or what concerns one part."""
    chosen = choose(arguments)
    if arguments.part:
        list(chosen.tabs(arguments.part))
    facts = [(riff, explain(riff)) for riff in chosen.riffs]
    told = [
        [one for one in sentences(found, riff) if not arguments.part or arguments.part in one.parts]
        for riff, found in facts
    ]
    if arguments.json:
        say_json(
            [
                {"facts": plain_data(found), "sentences": plain_data(texts)}
                for (_, found), texts in zip(facts, told, strict=True)
            ]
        )
        return DONE
    for number, ((riff, _), texts) in enumerate(zip(facts, told, strict=True)):
        say(("\n" if number else "") + riff.name, strong=True)
        for heading, group in groupby(texts, key=lambda one: one.section):
            say(f"\n{heading}")
            for one in group:
                say(fill(one.text, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False))
    return DONE
