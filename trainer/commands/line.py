"""The command line: finds the command, reads its options, and turns what goes wrong into sentences and exit codes."""

import argparse
import errno
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any, NoReturn

from trainer.commands.table import COMMANDS

DONE, FILE_WRONG, CALL_WRONG, MACHINE_LACKS, INTERRUPTED = 0, 1, 2, 3, 130
"""Exit codes. 130 is a shell's own for what Ctrl-C ended."""
OWN_MISTAKE = 70
"""The exit code after a mistake of the program's own (sysexits.h, EX_SOFTWARE)."""


UNUSABLE = {
    errno.ENAMETOOLONG: "this name is too long for a file. Choose a shorter one.",
    errno.ELOOP: "these links lead in a circle. Name the file they should lead to.",
    errno.EACCES: "you have no permission to look in here. Change the folder's permissions.",
}
"""What is told of a name that the system takes for no file's."""
MOST_SHOWN = 80
"""Characters of such a name that are shown."""


class MachineError(Exception):
    """Something the machine lacks, told as a sentence with what to do."""


class CallError(Exception):
    """Something wrong in the call, told as a sentence with what to do."""


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one sentence with the nearest right word."""

    def error(self, message: str) -> NoReturn:
        """Raise CallError instead of printing the usage."""
        found = message.removeprefix("unrecognized arguments: ")
        if found != message:
            from trainer.music.problem import nearest

            word = (found.split() or ['""'])[0].partition("=")[0]
            options = [option for action in self._actions for option in action.option_strings if option[:2] == "--"]
            meant = nearest(word, options)
            message = f"{word} is not known here." + (f" Did you mean {meant}?" if meant else "")
        raise CallError(f"{message.rstrip('.?')}{'?' if message.endswith('?') else '.'} See {self.prog} --help.")


def command_parser(name: str) -> Parser:
    """The parser of one command."""
    module = import_module(f"trainer.commands.{name.replace('-', '_')}")
    summary = dict(COMMANDS)[name]
    parser = Parser(prog=f"twinspur {name}", description=summary[0].upper() + summary[1:] + ".", allow_abbrev=False)
    module.options(parser)
    return parser


def full_parser() -> argparse.ArgumentParser:
    """One parser with every command, for completion scripts."""
    parser = Parser(prog="twinspur")
    parser.add_argument("--version", action="store_true", help="show the version")
    inner = parser.add_subparsers(dest="command", parser_class=Parser)
    for name, summary in COMMANDS:
        module = import_module(f"trainer.commands.{name.replace('-', '_')}")
        module.options(inner.add_parser(name, help=summary))
    return parser


def main(argv: Sequence[str]) -> int:
    """Carry out one call of at least one word; returns its exit code."""
    if argv[0] == "--version":
        from importlib.metadata import version

        sys.stdout.write(f"twinspur {version('twinspur')}\n")
        return DONE
    try:
        return _guarded(argv)
    finally:
        opened = sys.modules.get("trainer.commands.own_machine")  # not every command needs one
        if opened is not None:
            opened.close_machine()


def _guarded(argv: Sequence[str]) -> int:
    from trainer.commands.terminal import complain

    try:
        return _run(argv)
    except CallError as error:
        complain(f"twinspur: {error}")
        return CALL_WRONG
    except MachineError as error:
        complain(f"twinspur: {error}")
        return MACHINE_LACKS
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output has gone; what is still buffered has nowhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:  # nobody shall have to read a traceback
        return _unforeseen(error)


def _unforeseen(error: Exception) -> int:
    """Tell what no command foresaw: a full disk under its output, or a mistake of our own, which is written down."""
    from trainer.commands.terminal import complain

    if isinstance(error, OSError) and error.errno in {errno.ENOSPC, errno.EDQUOT}:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        complain("twinspur: There is no room left where this is written to: make some, and try again.")
        return FILE_WRONG
    if isinstance(error, OSError) and error.filename and error.errno in UNUSABLE:
        name = str(error.filename)
        complain(f"{name if len(name) <= MOST_SHOWN else name[:MOST_SHOWN] + '…'}: {UNUSABLE[error.errno]}")
        return FILE_WRONG
    from datetime import datetime

    from trainer.own_mistake import write_down

    complain(f"twinspur: {write_down(error, datetime.now().astimezone())}")
    return OWN_MISTAKE


def _run(argv: Sequence[str]) -> int:
    from trainer.commands.terminal import complain
    from trainer.music.problem import ProblemsError, nearest

    name, *rest = argv
    names = [command for command, _ in COMMANDS]
    if name not in names:
        meant = nearest(name, names)
        hint = f"Did you mean {meant}?" if meant else "See twinspur --help."
        raise CallError(f'there is no command "{name}". {hint}')
    try:
        arguments = command_parser(name).parse_args(rest)
        module: Any = import_module(f"trainer.commands.{name.replace('-', '_')}")
        code: int = module.run(arguments)
        sys.stdout.flush()
        return code
    except ProblemsError as error:
        for problem in error.problems:
            complain(str(problem) if problem.file else f"twinspur: {problem}")
        return FILE_WRONG if any(problem.file for problem in error.problems) else CALL_WRONG
