"""Watching the file of the exercise on the stand: other people's changes are reported, the program's own are not.

A thread looks at the file's time and size about once a second. A changed file is read once two looks in a row have
found it the same, so that an editor has finished with it. `reread` decides what the
stand does about a new version.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import NamedTuple

from trainer.music.exercise import Exercise
from trainer.music.problem import ProblemsError
from trainer.notation.files import file_text
from trainer.session.music import LoadedExercise
from trainer.session.state import SessionState
from trainer.sounds.rig import Rig

PAUSE_SECONDS = 0.8
"""Pause between two looks; looking at an unchanged file takes about 3 µs."""

Stamp = tuple[int, int, int]
"""A file's modification time in nanoseconds since 1970, its size in bytes, and its inode number."""


@dataclass(frozen=True, slots=True)
class FileChanged:
    """The text of an exercise file differs from when it was put on the stand."""

    id: str
    """The exercise's."""
    file: str
    """The file's name."""
    exercise: Exercise | None
    """The new version; None if it cannot be read."""
    problem: str
    """What is wrong with the file, with its place; empty if it could be read."""


class FileRead(NamedTuple):
    """The file whose text is on the stand."""

    path: Path
    stamp: Stamp | None
    """Taken before the file was read, so that no change is missed; None if it was missing."""


def stamp_of(path: Path) -> Stamp | None:
    """A value that differs after every change to the file; None if there is no such file."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


class FileWatch:
    """Watches one file at a time."""

    def __init__(
        self,
        read: Callable[[Path], Exercise],
        find: Callable[[str], Path],
        changed: Callable[[FileChanged], object],
        pause_seconds: float = PAUSE_SECONDS,
    ) -> None:
        """Make a watch; its thread starts with the first file.

        Args:
            read: reads an exercise. Raises ProblemsError.
            find: gives the file of an exercise, by its id. Raises ProblemsError.
            changed: told of each change, in the watching thread.
            pause_seconds: pause between two looks.
        """
        self._read, self._find, self._changed, self._pause = read, find, changed, pause_seconds
        self._lock = threading.Lock()
        self._id, self._path = "", Path()
        self._known: Stamp | None = None
        self._seen: Stamp | None = None
        self._absent = 0
        self._ours: list[str] = []
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    def watch(self, exercise: str, file: FileRead) -> None:
        """Watch the file of an exercise, given by its id, instead of the one before."""
        with self._lock:
            self._id, self._path, self._known, self._seen = exercise, file.path, file.stamp, file.stamp
            self._absent = 0
            self._ours.clear()
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="file watch", daemon=True)
            self._thread.start()

    def expect(self, path: Path, text: str) -> None:
        """Expect the program itself to write this text into the exercise's file, which may be a new path.

        That text is not reported, once; any other text is.
        """
        with self._lock:
            if path != self._path:
                self._path, self._known, self._seen, self._absent = path, None, None, 0
            self._ours.append(text)

    def close(self) -> None:
        """Stop watching."""
        self._closing.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()

    def look(self) -> None:
        """Look at the file once, as the thread does again and again."""
        with self._lock:
            exercise, path, known, seen = self._id, self._path, self._known, self._seen
        stamp = stamp_of(path)
        if stamp == known and stamp is not None:
            return
        with self._lock:
            if path != self._path:
                return
            self._seen = stamp
            self._absent = self._absent + 1 if stamp is None else 0
        if stamp is None:
            self._miss(exercise, path)
            return
        if stamp != seen:
            return  # somebody may be writing it
        with self._lock:
            if path != self._path:
                return
            self._known = stamp
        found = self._found(exercise, path)
        if found is not None:
            self._changed(found)

    def _run(self) -> None:
        while not self._closing.wait(self._pause):
            self.look()

    def _found(self, exercise: str, path: Path) -> FileChanged | None:
        """The new version; None if the program wrote it itself."""
        try:
            text = file_text(path, path.name)
            with self._lock:
                ours = text in self._ours
                self._ours.clear()
            return None if ours else FileChanged(exercise, path.name, self._read(path), "")
        except ProblemsError as error:
            return FileChanged(exercise, path.name, None, str(error.problems[0]))

    def _miss(self, exercise: str, path: Path) -> None:
        """Handle a missing file: perhaps it was moved. The search becomes rarer and rarer."""
        if self._absent < 2 or self._absent & (self._absent - 1):
            return
        try:
            elsewhere = self._find(exercise)
        except ProblemsError:
            elsewhere = path
        if elsewhere != path:
            with self._lock:
                if path == self._path:
                    self._path, self._known, self._seen, self._absent = elsewhere, None, None, 0
        elif self._absent == 2:
            self._changed(FileChanged(exercise, path.name, None, f"{path.name}: this file is gone."))


# -- what a new version means for the stand ------------------------------------------------------------------------


class FileFit(Enum):
    """How a new version of the file fits what is on the stand."""

    SAME = "the same"
    PLAYS_ON = "other notes in the same bars"
    OFFERED = "something else"


@dataclass(frozen=True, slots=True)
class NewVersion:
    """What to do about a new version of the file, and the sentence for the player."""

    fit: FileFit
    said: str = ""
    loaded: LoadedExercise | None = None
    """The music to play on with; None if it does not simply play on."""


def reread(state: SessionState, exercise: Exercise, file: str, rig: Rig, tries: bool) -> NewVersion:
    """Compare what is on the stand with a new version of its exercise.

    Args:
        state: the session's state.
        exercise: the new version, its harmonies computed.
        file: the file's name.
        rig: says which parts are guitars.
        tries: whether there are unwritten changes, which must not be lost unasked.
    """
    before = state.loaded
    if exercise == before.exercise:
        return NewVersion(FileFit.SAME)
    why = "what you try is not in it"
    try:
        loaded = LoadedExercise.of(exercise, before.riff, rig, before.players_ladder)
    except ValueError:
        why = f"{before.riff} is no longer in it" if before.riff else "there is nothing to play in it"
    else:
        if state.mine not in loaded.parts:
            why = f"{state.mine} is no longer in it"
        elif [(bar.meter, bar.riff) for bar in loaded.piece.bars] != [(b.meter, b.riff) for b in before.piece.bars]:
            why = f"{before.riff or 'the form'} has other bars now"
        elif not tries:
            same = loaded.digest == before.digest
            what = "the words are new" if same else "it is played as it is written now"
            return NewVersion(FileFit.PLAYS_ON, f"{file} was changed on disk: {what}.", loaded)
    return NewVersion(FileFit.OFFERED, f"{file} was changed on disk: {why}. N puts the new version on.")
