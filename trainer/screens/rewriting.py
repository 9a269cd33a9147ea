"""Writing what is tried into the exercise file, and taking that back: never over what was changed meanwhile."""

from dataclasses import dataclass, replace
from pathlib import Path

from trainer.music.problem import Problem, ProblemsError
from trainer.notation.files import file_text, save
from trainer.screens.draft import Draft


@dataclass(frozen=True, slots=True)
class Step:
    """One writing, with what is needed to take it back."""

    exercise: str
    """The exercise's id."""
    path: Path
    before: str | None
    """The file's text before; None where there was no such file."""
    after: str


def write_draft(draft: Draft, path: Path) -> tuple[Draft, Step]:
    """Write what is tried into a file.

    Args:
        draft: what to write.
        path: the file it was read from, or for a bundled one the player's own copy, which is made.

    Returns:
        The draft with nothing more to write, and the step back.

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
    return Draft.of(now), Step(draft.exercise.id, path, None if copied else disk.text, draft.text)


def take_back(step: Step) -> None:
    """Put the text back that a file had before a step; a copy that was made for it is removed.

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
