"""Sets on this machine: what one would add, adding it whole or not at all, and taking it away as a whole.

A set has a folder of its own, so that nothing of the player's is ever written over: an exercise or a patch that has the
name of another one is refused, because the record and the sound of the two would mix. What comes with a set and cannot
lie in its folder (assignments, takes, comments) says from which set it came.
"""

import json
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trainer.exchange.assignment import kept, lines_of, read_assignments
from trainer.exchange.set_file import ASSIGNMENTS, MANIFEST, SET_NAME, OpenedSet, SetManifest, digest_of_bytes
from trainer.listening.take_info import TakeComment, TakeInfo
from trainer.listening.takes import read_about
from trainer.music.exercise import Exercise
from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.notation.read import read
from trainer.places import private_folder
from trainer.practice.assigned import KeptAssignment, remove_source, set_assignments
from trainer.practice.verdict import Verdict
from trainer.session.machine import Machine
from trainer.sounds.patch_file import read_patch_file
from trainer.values import NotUnderstoodError, plain, read_json, to_json
from trainer.values import read as read_value


@dataclass(frozen=True, slots=True)
class SentTake:
    """A take in a set."""

    name: str
    ending: str
    info: TakeInfo


@dataclass(frozen=True, slots=True)
class Additions:
    """What a set would add here."""

    opened: OpenedSet
    exercises: tuple[Exercise, ...]
    """New ones."""
    known: tuple[str, ...]
    """Ids of exercises that are here already, the same to the letter."""
    patches: tuple[str, ...]
    """Names of new patches."""
    assignments: tuple[KeptAssignment, ...]
    takes: tuple[SentTake, ...]
    comments: tuple[tuple[str, TakeComment], ...]
    """By the name of the take they are about."""
    lost: int
    """Comments on takes that are not here any more."""


@dataclass(frozen=True, slots=True)
class TakenAway:
    """What taking a set away took, and what it left."""

    assignments: int
    takes: int
    kept: tuple[Path, ...]
    """Files that the player had changed, where they are now."""


def additions(machine: Machine, opened: OpenedSet, folder: Path, player: str, at: datetime) -> Additions:
    """What a set would add; nothing is changed.

    Args:
        machine: has the exercises, patches, takes.
        opened: the set.
        folder: where sets are.
        player: whose part is set, where the set says who plays what; empty for every part.
        at: now, with a time zone.

    Raises:
        ProblemsError: everything that stands in its way.
    """
    manifest, problems = opened.manifest, list[Problem]()
    if any(each.casefold() == manifest.name.casefold() for each in _names(folder)):
        hint = f'Take it away first: twinspur unpack --remove "{manifest.name}"'
        problems.append(Problem("", 0, 0, f'there is a set called "{manifest.name}" already', hint=hint))
    if player and player not in manifest.plays:
        players = ", ".join(printable(each) for each in manifest.plays) or "it names no players"
        problems.append(Problem("", 0, 0, f'the set has no player "{printable(player)}"', players))
    patches = _new_patches(machine, opened, problems)
    exercises, known = _new_exercises(machine, opened, {*machine.rig.patch_names, *patches}, problems)
    here = {each.id: each for each in exercises}

    def find(name: str) -> Exercise:
        return here[name] if name in here else machine.exercises.read(machine.exercises.find(name))

    assignments: tuple[KeptAssignment, ...] = ()
    if ASSIGNMENTS in opened.files and not problems:
        assignments = _assignments(opened, find, player, at)
    takes = _sent_takes(opened, problems)
    if problems:
        raise ProblemsError(problems)
    comments, lost = _comments(machine, manifest)
    return Additions(opened, exercises, known, patches, assignments, takes, comments, lost)


def add(machine: Machine, new: Additions, folder: Path, own_folders: tuple[Path, Path], at: datetime) -> None:
    """Add what a set holds, all of it or nothing.

    Args:
        machine: has the log and the takes.
        new: what it adds.
        folder: where sets are.
        own_folders: where the player's own exercises and patches are (`remove`).
        at: now, with a time zone.

    Raises:
        ProblemsError: when something cannot be written; all is then as it was.
    """
    manifest = new.opened.manifest
    _write_folder(new, folder)
    try:
        for take in new.takes:
            sound = new.opened.files[f"takes/{take.name}.{take.ending}"]
            about = json.loads(new.opened.files[f"takes/{take.name}.json"])
            origin = {"source": manifest.name, "sent_as": take.name, "player": manifest.sender}
            machine.takes().bring(take.name, take.ending, sound, {**about, **origin})
        for name, comment in new.comments:
            machine.takes().comment(name, comment)
        if new.assignments:
            machine.log.change(set_assignments, manifest.name, new.assignments, round(at.timestamp() * 1000))
    except BaseException:
        remove(machine, manifest.name, folder, own_folders)
        raise


def installed(folder: Path) -> tuple[SetManifest, ...]:
    """The sets that are here, by name; a folder that is none is left out."""
    return tuple(manifest for name in _names(folder) if (manifest := _manifest(folder / name)) is not None)


def remove(machine: Machine, name: str, folder: Path, own_folders: tuple[Path, Path]) -> TakenAway:
    """Take a set away: exercises, patches, assignments, takes and comments. What was practised stays in the log.

    Args:
        machine: has the log and the takes.
        name: the set's name.
        folder: where sets are.
        own_folders: where exercises and where patches go that the player has changed since: they are kept.

    Raises:
        ProblemsError: when there is no such set, or it cannot be taken away.
    """
    names = _names(folder)
    manifest = _manifest(folder / name) if name in names else None
    if manifest is None:
        meant = nearest(name, names)
        hint = f'Did you mean "{meant}"?' if meant else "twinspur unpack lists the sets"
        raise ProblemsError([Problem("", 0, 0, f'there is no set called "{printable(name)}"', hint=hint)])
    place = folder / name
    try:
        saved = _save_changed(place / "exercises", "exercises", manifest, own_folders[0])
        saved += _save_changed(place / "patches", "patches", manifest, own_folders[1])
        takes, gone = machine.takes(), 0
        for take in takes.all():
            if take.info.source == name:
                takes.delete(take.name)
                gone += 1
            elif any(each.source == name for each in take.info.comments):
                takes.uncomment(take.name, name)
        asked = machine.log.change(remove_source, name)
        aside = folder / f".{name}.gone"
        shutil.rmtree(aside, ignore_errors=True)
        place.replace(aside)
        shutil.rmtree(aside, ignore_errors=True)
    except OSError as error:
        what = f"the set cannot be taken away: {error.strerror}"
        raise ProblemsError([Problem(str(place), 0, 0, what, hint="Make its folder writable")]) from None
    return TakenAway(asked, gone, saved)


def _names(folder: Path) -> tuple[str, ...]:
    try:
        return tuple(sorted(path.name for path in folder.iterdir() if SET_NAME.fullmatch(path.name)))
    except OSError:
        return ()


def _manifest(place: Path) -> SetManifest | None:
    try:
        return read_json(SetManifest, (place / MANIFEST).read_bytes())
    except (OSError, NotUnderstoodError):
        return None


def _new_patches(machine: Machine, opened: OpenedSet, problems: list[Problem]) -> tuple[str, ...]:
    """The names of patches that are new here. One that sounds otherwise than the one of its name here is a problem."""
    rig, new = machine.rig, list[str]()
    known = {name: rig.patch(name) for name in rig.patch_names}
    for name, data in opened.under("patches").items():
        found = read_patch_file(f"patches/{name}", data.decode("utf-8", "replace"), dict(known))
        problems += found.problems.found
        if found.defaults or found.click_patterns:
            what = "a set brings patches only, no click patterns and no parts"
            problems.append(Problem(f"patches/{name}", 0, 0, what, hint="Ask for the set again"))
        for patch, value in found.patches.items():
            if patch not in known:
                new.append(patch)
            elif known[patch] != value:
                what = f'there is another patch called "{printable(patch)}" here'
                problems.append(Problem(f"patches/{name}", 0, 0, what, hint="Rename yours, or ask for another name"))
    return tuple(new)


def _new_exercises(
    machine: Machine, opened: OpenedSet, patches: set[str], problems: list[Problem]
) -> tuple[tuple[Exercise, ...], tuple[str, ...]]:
    """The exercises that are new here, and the ids of those that are here already."""
    heads = {head.id: head for head in reversed(machine.exercises.heads())}
    new: dict[str, Exercise] = {}
    known = []
    for name, data in opened.under("exercises").items():
        file = f"exercises/{name}"
        try:
            exercise = read(data.decode(), file, patches)
        except UnicodeDecodeError:
            problems.append(Problem(file, 0, 0, "this exercise is no UTF-8 text", hint="Ask for the set again"))
            continue
        except ProblemsError as error:
            problems += error.problems
            continue
        head = heads.get(exercise.id)
        if name != f"{exercise.id}.md":
            what = f'this exercise is called "{printable(exercise.id)}", and its file is not'
            problems.append(Problem(file, 0, 0, what, hint="Ask for the set again"))
        elif head is None:
            new[exercise.id] = exercise
        elif _same(Path(head.file), data):
            known.append(exercise.id)
        else:
            what = f'you have another exercise called "{printable(exercise.id)}": {printable(head.file)}'
            hint = "Give yours another id, or take away the set that it came in"
            problems.append(Problem(file, 0, 0, what, hint=hint))
    return tuple(new.values()), tuple(known)


def _same(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:
        return False


def _assignments(
    opened: OpenedSet, find: Callable[[str], Exercise], player: str, at: datetime
) -> tuple[KeptAssignment, ...]:
    """What it asks for; of the player's own part where the set says who plays what. Raises ProblemsError."""
    manifest = opened.manifest
    try:
        text = opened.files[ASSIGNMENTS].decode()
    except UnicodeDecodeError:
        raise ProblemsError([Problem(ASSIGNMENTS, 0, 0, "this is no UTF-8 text", hint="Ask for it again")]) from None
    asked = read_assignments(text, ASSIGNMENTS)
    lines = lines_of(asked, ASSIGNMENTS, find)
    if player:
        lines = {name: line for name, line in lines.items() if line.part == manifest.plays[player]}
    return kept(asked, lines, manifest.name, at)


def _sent_takes(opened: OpenedSet, problems: list[Problem]) -> tuple[SentTake, ...]:
    takes = []
    inside = opened.under("takes")
    for file in inside:
        name, _, ending = file.partition(".")
        if ending == "json":
            continue
        try:
            about = read_about(inside.get(f"{name}.json", b""))
            if about.get("verdict"):
                read_value(Verdict, about["verdict"])
            takes.append(SentTake(name, ending, TakeInfo.from_json(about)))
        except NotUnderstoodError as error:
            what = f"what the set says about this take is damaged: {error}"
            problems.append(Problem(f"takes/{file}", 0, 0, what, hint="Ask for the set again"))
        if f"{name}.flac" in inside and f"{name}.mid" in inside:
            problems.append(Problem(f"takes/{file}", 0, 0, "this take has two sounds", hint="Ask for the set again"))
    return tuple(takes)


def _comments(machine: Machine, manifest: SetManifest) -> tuple[tuple[tuple[str, TakeComment], ...], int]:
    """The comments on takes that are here, and how many are on others."""
    found = []
    for each in manifest.comments:
        take = machine.takes().take(each.take)
        if take is not None and _digest(take.sound) == each.digest:
            found.append((take.name, TakeComment(each.text, manifest.sender, manifest.name)))
    return tuple(found), len(manifest.comments) - len(found)


def _digest(path: Path) -> str:
    try:
        return digest_of_bytes(path.read_bytes())
    except OSError:
        return ""


def _write_folder(new: Additions, folder: Path) -> None:
    """Write the set's own folder under another name first, so that it is there whole or not at all."""
    manifest = new.opened.manifest
    part = folder / f".{manifest.name}.part"
    known = {f"exercises/{each}.md" for each in new.known}
    try:
        private_folder(folder)
        shutil.rmtree(part, ignore_errors=True)
        for name, data in ((MANIFEST, to_json(plain(manifest)).encode()), *new.opened.files.items()):
            if name.startswith("takes/") or name in known or (name.startswith("patches/") and not new.patches):
                continue
            path = part / name
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            path.write_bytes(data)
        part.rename(folder / manifest.name)
    except OSError as error:
        shutil.rmtree(part, ignore_errors=True)
        what = f"the set cannot be unpacked: {error.strerror}"
        raise ProblemsError([Problem(str(folder), 0, 0, what, hint="Make room for it, or make it writable")]) from None


def _save_changed(place: Path, kind: str, manifest: SetManifest, target: Path) -> tuple[Path, ...]:
    """Move the files that the player has changed or added to their own folder. Raises OSError."""
    digests = {each.name: each.digest for each in manifest.files}
    saved = []
    for path in sorted(place.rglob("*")) if place.is_dir() else ():
        if path.is_file() and digest_of_bytes(path.read_bytes()) != digests.get(f"{kind}/{path.name}"):
            target.mkdir(parents=True, exist_ok=True)
            free, number = target / path.name, 2
            while os.path.lexists(free):
                free, number = target / f"{path.stem}-{number}{path.suffix}", number + 1
            shutil.move(path, free)
            saved.append(free)
    return tuple(saved)
