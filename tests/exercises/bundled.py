"""The bundled exercises as text, as read, and with their harmonies computed."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from trainer.arranging.realise import realise_exercise
from trainer.music.exercise import Exercise
from trainer.music.note import Touch
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote, sounding
from trainer.notation.files import read_file
from trainer.places import bundled
from trainer.sounds.load_patches import load_patches

REFERENCE = bundled("exercises") / "README.md"


@dataclass(frozen=True, slots=True)
class Bundled:
    """One bundled exercise."""

    path: Path
    text: str
    exercise: Exercise
    sounding: Exercise
    """With every harmony computed."""


@cache
def load(name: str) -> Bundled:
    path = bundled("exercises") / f"{name}.md"
    exercise = read_file(path, load_patches([bundled("patches")]).patch_names)
    return Bundled(path, path.read_text(encoding="utf-8"), exercise, realise_exercise(exercise, str(path)))


NAMES = sorted(path.stem for path in bundled("exercises").glob("*.md") if path != REFERENCE)


def every() -> list[Bundled]:
    return [load(name) for name in NAMES]


def riff_of(name: str, riff: str) -> Riff:
    """A riff with its harmonies computed."""
    found = load(name).sounding.riff(riff)
    assert found is not None, f"{name} has no riff {riff}"
    return found


def notes(riff: Riff, part: str) -> tuple[SoundingNote, ...]:
    """What a part sounds, dead notes left out."""
    found = next(tab for tab in riff.tabs if tab.name == part)
    return tuple(note for note in sounding(found, riff.bar_starts) if note.note.touch is not Touch.DEAD)
