"""The exercise on the stand with what is being tried: its file's text with some blocks replaced, and writing that back.

A draft is read from the text it would write, so what is seen and heard is exactly what the file would say.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple, Self

from trainer.arranging.choosing import with_part
from trainer.arranging.realise import realise, realise_exercise
from trainer.music.exercise import Exercise
from trainer.music.instrument import Instrument
from trainer.music.note import Note, Touch
from trainer.music.part import HarmonyPart, Part, TabPart
from trainer.music.problem import Problem, ProblemsError
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi
from trainer.notation.edit import put_block
from trainer.notation.files import file_text, save
from trainer.notation.read import read
from trainer.notation.write import block_lines, harmony_text, in_written_order


class BlockText(NamedTuple):
    """A fenced block of the exercise file, without its fences."""

    kind: str
    """"tab" or "harmony"."""
    part: str
    lines: tuple[str, ...]


class ChangeKind(StrEnum):
    """What a change to a part replaces."""

    FINGERING = "fingering"
    HARMONY = "harmony"


@dataclass(frozen=True, slots=True)
class DraftChange:
    """One change being tried."""

    kind: ChangeKind
    riff: str
    part: str
    words: str
    """What the player reads: "fingering 2", "sixth below"."""
    blocks: tuple[BlockText, ...]
    """The blocks it writes; several when another part has to be written out as well."""
    number: int = 0
    """The fingering's number; 0 for a harmony."""


@dataclass(frozen=True, slots=True)
class OnDisk:
    """An exercise file as it was read from disk."""

    path: Path
    text: str
    written: Exercise
    """As the file has it."""
    exercise: Exercise
    """The same, with its harmonies computed."""
    patches: tuple[str, ...] | None

    @classmethod
    def read(cls, path: Path, patches: Collection[str] | None = None) -> Self:
        """Read a file. Raises ProblemsError."""
        text = file_text(path, path.name)
        written = read(text, path.name, patches)
        known = None if patches is None else tuple(patches)
        return cls(path, text, written, realise_exercise(written, path.name), known)


@dataclass(frozen=True, slots=True)
class Draft:
    """An exercise file with the changes being tried. Make one with `Draft.of`."""

    disk: OnDisk
    changes: tuple[DraftChange, ...]
    text: str
    """What the file would say."""
    written: Exercise
    exercise: Exercise

    @classmethod
    def of(cls, disk: OnDisk) -> Self:
        """A draft with no changes yet."""
        return cls(disk, (), disk.text, disk.written, disk.exercise)

    def change(self, kind: ChangeKind, riff: str, part: str) -> DraftChange | None:
        """The change of this kind for a part; None if there is none."""
        return next((one for one in self.changes if (one.kind, one.riff, one.part) == (kind, riff, part)), None)

    def without(self, riff: str, part: str, *kinds: ChangeKind) -> Self:
        """Drop some kinds of change to a part. Raises ProblemsError if the other changes cannot be written then."""
        kept = tuple(one for one in self.changes if not (one.kind in kinds and (one.riff, one.part) == (riff, part)))
        return self if kept == self.changes else self._with(kept)

    def with_fingering(self, riff: str, tab: TabPart, number: int) -> Self:
        """Add another fingering of a part, known by its number.

        Raises:
            ProblemsError: it cannot be written without changing other notes.
        """
        base = self.without(riff, tab.name, ChangeKind.FINGERING)
        heard = _riff(base.exercise, riff)
        tied = _tied(_riff(base.written, riff), tab.name)
        tab = in_written_order(tab, heard)
        wanted = _riff(with_part(base.exercise, riff, tab), riff)
        for parts in ((tab.name,), (tab.name, *tied)):
            for marks in (False, True):
                blocks = tuple(_tab_block(wanted, name, marks=marks and name == tab.name) for name in parts)
                change = DraftChange(ChangeKind.FINGERING, riff, tab.name, f"fingering {number}", blocks, number)
                draft = base._with((*base.changes, change))
                found = _riff(draft.exercise, riff)
                if found.part(tab.name) == tab and sounds_as(found, heard):
                    return draft
        raise _cannot(self.disk.path, riff, tab.name)

    def with_harmony(self, riff: str, asked: HarmonyPart) -> Self:
        """Add a part computed from another one.

        Raises:
            ProblemsError: a note of it lies outside the neck, or it cannot be written without changing the line.
        """
        base = self.without(riff, asked.name, ChangeKind.HARMONY, ChangeKind.FINGERING)
        heard = _riff(base.exercise, riff)
        line = heard.part(asked.follows)
        lines = tuple(harmony_text(asked, heard).rstrip("\n").split("\n"))
        block = BlockText("harmony", asked.name, lines)
        problem = _cannot(self.disk.path, riff, asked.follows)
        # The line itself is written out where it depends on the part that is replaced.
        written_out = [(), *((_tab_block(heard, asked.follows, marks=marks),) for marks in (False, True))]
        for more in written_out:
            try:
                change = DraftChange(ChangeKind.HARMONY, riff, asked.name, str(asked.distance), (*more, block))
                draft = base._with((*base.changes, change))
            except ProblemsError as error:
                problem = error
                continue
            found = _riff(draft.exercise, riff)
            if found.part(asked.follows) == line and found.tempo_marks == heard.tempo_marks:
                return draft
        raise problem

    def _with(self, changes: tuple[DraftChange, ...]) -> Self:
        disk, text = self.disk, self.disk.text
        name = disk.path.name
        for change in changes:
            for kind, part, lines in change.blocks:
                text = put_block(text, change.riff, kind, part, lines, file=name)
        written = read(text, name, disk.patches)
        known = {riff.name: riff for riff in self.written.riffs}
        computed = {riff.name: riff for riff in self.exercise.riffs}
        riffs = tuple(
            computed[riff.name] if riff == known.get(riff.name) else realise(riff, name) for riff in written.riffs
        )
        return replace(self, changes=changes, text=text, written=written, exercise=replace(written, riffs=riffs))


def sounds_as(one: Riff, other: Riff) -> bool:
    """Whether two riffs sound the same, wherever on the neck they are played."""
    return (
        (one.meters, one.tempo_marks, one.part_names) == (other.meters, other.tempo_marks, other.part_names)
        and all(_heard(one.part(name)) == _heard(other.part(name)) for name in one.part_names)
    )  # fmt: skip


def _heard(part: Part | None) -> object:
    if not isinstance(part, TabPart):
        return part
    neck = part.instrument
    return [
        [(replace(moment, notes=(), pick=""), sorted(_pitch(neck, note) for note in moment.notes)) for moment in bar]
        for bar in part.bars
    ]


def _pitch(neck: Instrument, note: Note) -> int:
    """The MIDI key of a note; -1 for a dead note, which may be struck on any string."""
    return -1 if note.touch is Touch.DEAD else note_midi(neck, note)


def _tied(written: Riff, part: str) -> Sequence[str]:
    """The parts that trade bars with this one; those that are computed have to be written out along with it."""
    trading = [one for one in written.harmonies if one.leads and part in (one.name, one.follows)]
    return [name for name in dict.fromkeys(name for one in trading for name in (one.name, one.follows)) if name != part]


def _tab_block(riff: Riff, name: str, *, marks: bool) -> BlockText:
    part = riff.part(name)
    assert isinstance(part, TabPart)  # noqa: S101 - harmonies have been computed
    return BlockText("tab", name, tuple(block_lines(part, riff, riff.tempo_marks if marks else ())))


def _riff(exercise: Exercise, name: str) -> Riff:
    found = exercise.riff(name)
    if found is None:
        raise KeyError(name)
    return found


def _cannot(path: Path, riff: str, part: str) -> ProblemsError:
    what = f"{part} of {riff!r} cannot be rewritten without changing other notes"
    return ProblemsError([Problem(path.name, 0, 0, what, "", "DraftChange it in the file")])


# -- writing it into the file -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UndoStep:
    """One write to an exercise file, with what is needed to undo it."""

    exercise: str
    """The exercise's id."""
    path: Path
    before: str | None
    """The file's text before; None where there was no such file."""
    after: str


def write_draft(draft: Draft, path: Path) -> tuple[Draft, UndoStep]:
    """Write the changes into a file.

    Args:
        draft: what to write.
        path: the file it was read from; for a bundled exercise, the player's own copy, which is created.

    Returns:
        The draft with nothing left to write, and the step that undoes it.

    Raises:
        ProblemsError: the file has changed since it was read, or cannot be written; nothing has changed then.
    """
    disk = draft.disk
    _check_unchanged(disk.path, disk.text, "Open it again from the shelf, then write")
    copied = path != disk.path
    if copied:
        if path.exists():
            raise _problem(path, "your folder has another file of this name", "Rename that one first")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _problem(path.parent, f"this folder cannot be made: {error.strerror}", "") from None
    save(path, draft.text)
    now = replace(disk, path=path, text=draft.text, written=draft.written, exercise=draft.exercise)
    return Draft.of(now), UndoStep(draft.exercise.id, path, None if copied else disk.text, draft.text)


def take_back(step: UndoStep) -> None:
    """Restore the text a file had before a write; a copy made for it is removed.

    Raises:
        ProblemsError: the file has changed since, or cannot be written; nothing has changed then.
    """
    _check_unchanged(step.path, step.after, "Undo would lose that, so nothing was changed")
    if step.before is not None:
        save(step.path, step.before)
        return
    try:
        step.path.unlink()
    except OSError as error:
        raise _problem(step.path, f"this file cannot be removed: {error.strerror}", "") from None


def _check_unchanged(path: Path, text: str, hint: str) -> None:
    if file_text(path) != text:
        raise _problem(path, "the file has changed meanwhile", hint)


def _problem(path: Path, what: str, hint: str) -> ProblemsError:
    return ProblemsError([Problem(str(path), 0, 0, what, "", hint)])
