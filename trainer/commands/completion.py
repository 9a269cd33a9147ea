"""`twinspur completion`: the script that completes commands, options, exercises and files in a shell."""

import argparse
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from shlex import quote
from typing import Any

from trainer.commands.line import DONE, full_parser
from trainer.commands.terminal import say

SHELLS = ("bash", "zsh", "tcsh")
PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
"""Ids that stand in the script as they are. Others are left out: a shell would read something else in them."""
FILES = frozenset({"TAKE", "FILE", "FILE.svg|png"})
"""What options call a file."""

BASH = """\
# $1 is the word so far; what files are called is only compared and printed, never read as words of the shell
_twinspur_file_or_exercise() {{
  local file name
  for name in {ids}; do
    [[ $name == "$1"* ]] && printf '%s\\n' "$name"
  done
  for file in {folders}; do
    name=${{file##*/}}; name=${{name%.md}}
    [[ -f $file && $name == "$1"* ]] && printf '%s\\n' "$name"
  done
  compgen -f -X '!*.md' -- "$1"
  compgen -d -- "$1"
}}"""
ZSH = """\
_twinspur_file_or_exercise() {{
  local folder
  local -a name
  name=({ids})
  for folder in {folders}; do name+=($folder/*.md(N:t:r)); done
  compadd -a name
  _files -g '*.md'
}}"""


def options(parser: argparse.ArgumentParser) -> None:
    """The shell that the script is for."""
    parser.add_argument("shell", choices=SHELLS, help="the shell; put its script where it looks for completions")


def run(arguments: argparse.Namespace) -> int:
    """Print the script: the bundled exercises stand in it, the player's own folders are looked into as one types."""
    import shtab

    from trainer.commands.own_machine import machine
    from trainer.places import bundled

    inside = bundled("exercises")
    ids = sorted(path.stem for path in inside.glob("*.md") if PLAIN.fullmatch(path.stem) and path.stem != "README")
    folders = [folder for folder in machine().settings().exercise_folders if folder != inside]
    parser = full_parser()
    exercises = _exercises(ids, folders)
    for command in _commands(parser):
        for action in command._actions:
            if action.metavar == "EXERCISE":
                action.complete = exercises  # type: ignore[attr-defined]  # shtab's own
            elif action.metavar in FILES:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
    say(shtab.complete(parser, shell=arguments.shell))
    return DONE


def _exercises(ids: Sequence[str], folders: Sequence[Path]) -> Mapping[str, Any]:
    """What an exercise is completed by in each shell."""
    names = " ".join(ids)
    bash = BASH.format(ids=names, folders=" ".join(f"{quote(str(folder))}/*.md" for folder in folders))
    zsh = ZSH.format(ids=names, folders=" ".join(quote(str(folder)) for folder in folders))
    function = "_twinspur_file_or_exercise"
    return {"bash": function, "zsh": function, "tcsh": f"({names})", "preamble": {"bash": bash, "zsh": zsh}}


def _commands(parser: argparse.ArgumentParser) -> list[argparse.ArgumentParser]:
    """The parsers of the commands."""
    inner = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    return [command for action in inner for command in action.choices.values()]
