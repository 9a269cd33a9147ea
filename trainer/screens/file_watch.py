"""Watching the file of the exercise on the stand: somebody else's changes are told, our own are not.

A thread looks at the file's time and size about once a second. A file that has changed is read when two looks have
found it the same, so that an editor has done with it.
"""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from trainer.music.problem import ProblemsError
from trainer.notation.files import file_text

if TYPE_CHECKING:
    from trainer.music.exercise import Exercise

PAUSE_SECONDS = 0.8
"""Between two looks; a look at a file that has not changed takes some 3 µs."""

Stamp = tuple[int, int, int]
"""Nanoseconds since 1970 of its last change, bytes, and number on its disk."""


@dataclass(frozen=True, slots=True)
class FileChanged:
    """An exercise file has other text than when it was put on the stand."""

    id: str
    """The exercise's."""
    file: str
    """The file's name."""
    exercise: "Exercise | None"
    """What it has now; None where that cannot be read."""
    problem: str
    """What is wrong with it, with its place; empty when it was read."""


class FileRead(NamedTuple):
    """A file whose text is on the stand."""

    path: Path
    stamp: Stamp | None
    """Taken before it was read, so that no change is missed."""


def stamp_of(path: Path) -> Stamp | None:
    """What a changed file has another one of; None where there is no such file."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


class FileWatch:
    """Watches one file at a time."""

    def __init__(
        self,
        read: "Callable[[Path], Exercise]",
        find: Callable[[str], Path],
        changed: Callable[[FileChanged], object],
        pause_seconds: float = PAUSE_SECONDS,
    ) -> None:
        """Watch nothing yet; the thread begins with the first file.

        Args:
            read: reads an exercise. Raises ProblemsError.
            find: gives the file of an exercise, by its id. Raises ProblemsError.
            changed: told of each change, in the watching thread.
            pause_seconds: between two looks.
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
        """Watch the file of an exercise, known by its id, from now on, instead of any other."""
        with self._lock:
            self._id, self._path, self._known, self._seen = exercise, file.path, file.stamp, file.stamp
            self._absent = 0
            self._ours.clear()
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="file watch", daemon=True)
            self._thread.start()

    def expect(self, path: Path, text: str) -> None:
        """The program itself is about to write this text into the file of the exercise, which may be another one now.

        It is not told, once; whatever else is found there is.
        """
        with self._lock:
            if path != self._path:
                self._path, self._known, self._seen, self._absent = path, None, None, 0
            self._ours.append(text)

    def close(self) -> None:
        """Look no more."""
        self._closing.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()

    def look(self) -> None:
        """Look at the file; the thread does it all the time."""
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
        """What the file has now; None where we have written it ourselves."""
        try:
            text = file_text(path, path.name)
            with self._lock:
                ours = text in self._ours
                self._ours.clear()
            return None if ours else FileChanged(exercise, path.name, self._read(path), "")
        except ProblemsError as error:
            return FileChanged(exercise, path.name, None, str(error.problems[0]))

    def _miss(self, exercise: str, path: Path) -> None:
        """The file is not there: perhaps it was moved. It is looked for ever more seldom."""
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
