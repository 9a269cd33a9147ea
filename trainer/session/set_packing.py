"""Packing a set: everything that exercises, assignments, takes and comments need on another machine."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from trainer.exchange.assignment import Assignments, lines_of, read_assignments
from trainer.exchange.set_file import ASSIGNMENTS, SentComment, SetManifest, digest_of_bytes
from trainer.listening.takes import KeptTake
from trainer.music.exercise import Exercise
from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError
from trainer.notation.files import file_text, read_file
from trainer.places import bundled
from trainer.session.machine import Machine
from trainer.sounds.load_patches import load_patches


@dataclass(frozen=True, slots=True)
class SetRequest:
    """What to pack."""

    name: str
    exercises: Sequence[str] = ()
    """Ids or paths."""
    assignments: Path | None = None
    """A teacher's file. The exercises it asks for are packed too."""
    takes: Sequence[KeptTake] = ()
    """Takes to send, with their verdicts."""
    commented: Sequence[KeptTake] = ()
    """Takes that came in a set, whose comments go back."""
    sender: str = ""
    plays: Mapping[str, str] = field(default_factory=dict, hash=False)
    """Who plays which part, by player."""


def packed(machine: Machine, request: SetRequest, own_patches: Path) -> tuple[SetManifest, dict[str, bytes]]:
    """What a set says about itself, and its files by name in the archive.

    Args:
        machine: has the exercises and patches.
        request: what to pack.
        own_patches: the folder of the player's own patch files.

    Raises:
        ProblemsError: for what cannot be read, or is not there.
    """
    asked: Assignments | None = None
    wanted = list(request.exercises)
    if request.assignments is not None:
        file = printable(str(request.assignments))
        asked = read_assignments(file_text(request.assignments), file)
        lines_of(asked, file, lambda name: machine.exercises.read(machine.exercises.find(name)))
        wanted += [each.exercise for each in asked.each.values()]
    files: dict[str, bytes] = {}
    exercises: dict[str, Exercise] = {}
    for name in wanted:
        path = machine.exercises.find(name)
        exercise = read_file(path, machine.rig.patch_names)
        data = file_text(path).encode()
        if files.setdefault(f"exercises/{exercise.id}.md", data) != data:
            raise _problem(f'there are two exercises called "{printable(exercise.id)}"', "Give one another id")
        exercises[exercise.id] = exercise
    if request.assignments is not None:
        files[ASSIGNMENTS] = file_text(request.assignments).encode()
    patches = _patches({part.patch for each in exercises.values() for part in each.parts if part.patch}, own_patches)
    if patches:
        files["patches/own.toml"] = patches.encode()
    for take in request.takes:
        files[f"takes/{take.name}{take.sound.suffix}"] = _bytes(take.sound)
        files[f"takes/{take.name}.json"] = _bytes(take.sound.with_suffix(".json"))
    comments = tuple(
        SentComment(take.info.sent_as or take.name, digest_of_bytes(_bytes(take.sound)), comment.text)
        for take in request.commented
        for comment in take.info.comments
    )
    if not files and not comments:
        raise _problem("there is nothing to pack", "Name exercises, or give --assignments, --takes or --comments")
    bank = machine.settings().bank
    sender = request.sender or (asked.teacher if asked else "")
    return SetManifest(request.name, sender, request.plays, bank.name if bank else "", comments), files


def _patches(used: set[str], folder: Path) -> str:
    """The player's own patches among those that are used, with what they are like, as the text of a patch file.

    A patch that has a bundled one's name is left out: every player has one of that name.
    """
    import tomlkit

    everyones = set(load_patches([bundled("patches")]).patch_names)
    own: dict[str, dict[str, object]] = {}
    for path in sorted(folder.glob("*.toml")):
        own |= tomllib.loads(file_text(path)).get("patch", {})
    needed: dict[str, dict[str, object]] = {}
    waiting = sorted(used)
    while waiting:
        name = waiting.pop()
        if name in own and name not in everyones and name not in needed:
            needed[name] = own[name]
            waiting.append(str(own[name].get("like", "")))
    in_order = {name: table for name, table in own.items() if name in needed}  # a patch is like one before it
    return tomlkit.dumps({"patch": in_order}) if in_order else ""


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        what = f"this file cannot be read: {error.strerror}"
        raise ProblemsError([Problem(printable(str(path)), 0, 0, what)]) from None


def _problem(what: str, hint: str) -> ProblemsError:
    return ProblemsError([Problem("", 0, 0, what, hint=hint)])
