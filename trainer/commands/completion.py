"""`twinspur completion`: the script that completes commands, options and exercises in a shell."""

import argparse

from trainer.commands.line import DONE, full_parser
from trainer.commands.terminal import say

SHELLS = ("bash", "zsh", "tcsh")


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    parser.add_argument("shell", choices=SHELLS, help="the shell; put its script where it looks for completions")


def run(arguments: argparse.Namespace) -> int:
    """Print the script."""
    import shtab

    say(shtab.complete(full_parser(), shell=arguments.shell))
    return DONE
