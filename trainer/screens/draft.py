"""An exercise with what is tried on the stand: the file's text with some blocks written anew, not yet in the file.

What is tried is read back from that text, so that what is seen and heard is what the file would say.
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
from trainer.notation.files import file_text
from trainer.notation.read import read
from trainer.notation.write import harmony_text, tab_lines


class Block(NamedTuple):
    """A block of the file, without its fences."""

    kind: str
    """"tab" or "harmony"."""
    part: str
    lines: tuple[str, ...]


class Kind(StrEnum):
    """What is tried for a part."""

    FINGERING = "fingering"
    HARMONY = "harmony"


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is tried."""

    kind: Kind
    riff: str
    part: str
    words: str
    """What it is, for the player: "fingering 2", "sixth below"."""
    blocks: tuple[Block, ...]
    """What it writes; more than one where another part must be written out for it."""
    number: int = 0
    """The fingering's."""


@dataclass(frozen=True, slots=True)
class OnDisk:
    """An exercise file as it was read."""

    path: Path
    text: str
    written: Exercise
    """As the file has it."""
    exercise: Exercise
    """With its harmonies computed."""
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
    """A file, and what is tried. Begin with `Draft.of`."""

    disk: OnDisk
    changes: tuple[Change, ...]
    text: str
    """What the file would say."""
    written: Exercise
    exercise: Exercise

    @classmethod
    def of(cls, disk: OnDisk) -> Self:
        """Nothing is tried."""
        return cls(disk, (), disk.text, disk.written, disk.exercise)

    def change(self, kind: Kind, riff: str, part: str) -> Change | None:
        """What is tried for a part, if anything is."""
        return next((one for one in self.changes if (one.kind, one.riff, one.part) == (kind, riff, part)), None)

    def without(self, riff: str, part: str, *kinds: Kind) -> Self:
        """Without what is tried for a part. Raises ProblemsError where the rest cannot stand without it."""
        kept = tuple(one for one in self.changes if not (one.kind in kinds and (one.riff, one.part) == (riff, part)))
        return self if kept == self.changes else self._with(kept)

    def with_fingering(self, riff: str, tab: TabPart, number: int) -> Self:
        """With a part played in another way, which is told by its number.

        Raises:
            ProblemsError: it cannot be written without changing other notes.
        """
        base = self.without(riff, tab.name, Kind.FINGERING)
        heard = _riff(base.exercise, riff)
        tied = _tied(_riff(base.written, riff), tab.name)
        wanted = _riff(with_part(base.exercise, riff, tab), riff)
        for parts in ((tab.name,), (tab.name, *tied)):
            for marks in (False, True):
                blocks = tuple(_tab_block(wanted, name, marks=marks and name == tab.name) for name in parts)
                change = Change(Kind.FINGERING, riff, tab.name, f"fingering {number}", blocks, number)
                draft = base._with((*base.changes, change))
                found = _riff(draft.exercise, riff)
                if found.part(tab.name) == tab and sounds_as(found, heard):
                    return draft
        raise _cannot(self.disk.path, riff, tab.name)

    def with_harmony(self, riff: str, asked: HarmonyPart) -> Self:
        """With a part computed from another one.

        Raises:
            ProblemsError: a note of it lies outside the neck, or it cannot be written without changing the line.
        """
        base = self.without(riff, asked.name, Kind.HARMONY, Kind.FINGERING)
        heard = _riff(base.exercise, riff)
        line = heard.part(asked.follows)
        lines = tuple(harmony_text(asked, heard).rstrip("\n").split("\n"))
        block = Block("harmony", asked.name, lines)
        problem = _cannot(self.disk.path, riff, asked.follows)
        # The line itself is written out where it depends on the part that is replaced.
        written_out = [(), *((_tab_block(heard, asked.follows, marks=marks),) for marks in (False, True))]
        for more in written_out:
            try:
                change = Change(Kind.HARMONY, riff, asked.name, str(asked.distance), (*more, block))
                draft = base._with((*base.changes, change))
            except ProblemsError as error:
                problem = error
                continue
            found = _riff(draft.exercise, riff)
            if found.part(asked.follows) == line and found.tempo_marks == heard.tempo_marks:
                return draft
        raise problem

    def _with(self, changes: tuple[Change, ...]) -> Self:
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
    """Whether two riffs are the same music, wherever on the neck it is played."""
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
    """The MIDI key of a note; of a dead one nothing, as it may be struck on any string."""
    return -1 if note.touch is Touch.DEAD else note_midi(neck, note)


def _tied(written: Riff, part: str) -> Sequence[str]:
    """The parts that trade bars with a part: those of them that are computed must be written out with it."""
    trading = [one for one in written.harmonies if one.leads and part in (one.name, one.follows)]
    return [name for name in dict.fromkeys(name for one in trading for name in (one.name, one.follows)) if name != part]


def _tab_block(riff: Riff, name: str, *, marks: bool) -> Block:
    part = riff.part(name)
    assert isinstance(part, TabPart)  # noqa: S101 - harmonies have been computed
    return Block("tab", name, tuple(tab_lines(part, riff, riff.tempo_marks if marks else ())))


def _riff(exercise: Exercise, name: str) -> Riff:
    found = exercise.riff(name)
    if found is None:
        raise KeyError(name)
    return found


def _cannot(path: Path, riff: str, part: str) -> ProblemsError:
    what = f"{part} of {riff!r} cannot be written anew without changing other notes"
    return ProblemsError([Problem(path.name, 0, 0, what, "", "Change it in the file")])
