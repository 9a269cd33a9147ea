"""Files of the player's own, from the shelf: a new exercise, and the chosen one in the player's editor."""

import os
import re
import shlex
import shutil
import signal
import subprocess
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from textual.app import App, SuspendNotSupported

from trainer.music.exercise import COMMON_TIME
from trainer.music.problem import ProblemsError
from trainer.music.tempo import Tempo
from trainer.notation.blank import Blank, blank_exercise
from trainer.notation.files import save
from trainer.notation.front import DEFAULT_KEY
from trainer.places import data_folder

MOST_TITLE = 80
"""Characters of a title."""
EDITORS = ("sensible-editor", "nano", "vim", "vi")
"""Tried in this order where neither VISUAL nor EDITOR names one."""
NEW_TEMPO = Tempo(Fraction(80), Fraction(120))


class NoEditorError(Exception):
    """No editor can be started; the text says why, and what to do."""


def editor_words() -> list[str]:
    """How the player's editor is called: VISUAL, EDITOR, else what is installed. Raises NoEditorError."""
    for variable in ("VISUAL", "EDITOR"):
        named = os.environ.get(variable, "").strip()
        if not named:
            continue
        try:
            words = shlex.split(named)
        except ValueError:
            words = []
        if not words or shutil.which(words[0]) is None:
            raise NoEditorError(f"{variable} names no program that is here ({named[:60]}). Set it to your editor.")
        return words
    found = next((name for name in EDITORS if shutil.which(name)), "")
    if not found:
        raise NoEditorError("There is no editor here. Set EDITOR to the one you use, and start again.")
    return [found]


def id_of(title: str) -> str:
    """The id of a new exercise. Raises ValueError with a sentence for a title that gives none, or one that is taken."""
    title = " ".join(title.split())
    name = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
    if not title.isprintable() or not name or len(title) > MOST_TITLE:
        raise ValueError(f"A title has at least one letter or digit, and at most {MOST_TITLE} characters.")
    if own_path(name).exists():
        raise ValueError(f"{own_path(name)} exists already. Choose another title.")
    return name


def own_path(name: str) -> Path:
    """Where the exercise of an id lies in the player's own folder."""
    return data_folder() / "exercises" / f"{name}.md"


def begin(title: str) -> Path:
    """Write a new exercise, two guitars with a gallop's counts laid out, into the player's own folder.

    Raises:
        ValueError: as `id_of`.
        ProblemsError: it cannot be written; nothing is left behind then.
    """
    name = id_of(title)
    parts = ("guitar 1", "guitar 2")
    blank = Blank(" ".join(title.split()), name, DEFAULT_KEY, COMMON_TIME, NEW_TEMPO, parts, figure="gallop")
    return _written(own_path(name), blank_exercise(blank).encode())


def own_copy(path: Path, own: Path) -> Path:
    """The player's own file of an exercise: for a bundled one a copy, which is made where there is none.

    Args:
        path: the exercise's file.
        own: where the player's own is; the same for what is no bundled exercise.

    Raises:
        ProblemsError: it cannot be written.
    """
    return own if own.exists() else _written(own, path.read_bytes())


def _written(path: Path, data: bytes) -> Path:
    from trainer.new_file import refused

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refused(path, error) from None
    save(path, data.decode("utf-8"))
    return path


class OwnFiles:
    """Hands the terminal to the player's editor and takes it back."""

    def __init__(self, app: App[object], own_file: Callable[[Path], Path], tell: Callable[[str], None]) -> None:
        """Keep what it works with.

        Args:
            app: whose terminal it is.
            own_file: where changes to an exercise are written.
            tell: says a sentence to the player.
        """
        self._app, self._own_file, self._tell = app, own_file, tell

    def edit(self, path: Path) -> Path:
        """Open an exercise in the editor, and come back when that ends. What plays goes on meanwhile.

        Returns:
            The player's own file of it; `path` where nothing was edited.
        """
        try:
            words, own = editor_words(), own_copy(path, self._own_file(path))
        except (NoEditorError, ProblemsError) as error:
            self._tell(str(error))
            return path
        except (OSError, UnicodeDecodeError):
            self._tell(f"{path} cannot be read any more.")
            return path
        if own != path:
            self._tell(f"This is your own copy: {own}. The bundled file stays as it is.")
        before = signal.signal(signal.SIGINT, lambda *_: None)  # Ctrl-C is the editor's while it has the terminal
        try:
            with self._app.suspend():
                code = subprocess.run([*words, str(own)], check=False).returncode  # noqa: S603  # the player's editor
            if code:
                self._tell(f"{words[0]} ended with code {code}. The file is as it left it.")
        except SuspendNotSupported:
            self._tell("This terminal cannot be handed over. Edit the file in another window.")
        except OSError as error:
            self._tell(f"{words[0]} cannot be started: {error.strerror}. Set EDITOR to your editor.")
        finally:
            signal.signal(signal.SIGINT, before)
            self._app.refresh()
        return own
