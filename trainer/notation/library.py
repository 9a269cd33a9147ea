"""The exercises the player has: files in some folders, found by id, listed quickly, remembered between starts."""

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.notation.files import file_text, save
from trainer.notation.head import Head, read_head
from trainer.places import from_home

TYPE_CHECKING = False  # typing's own, without waiting for typing
if TYPE_CHECKING:
    from trainer.notation.index import Known, Stamp

ENDING = ".md"
MOST_DEPTH = 8
"""Folders inside folders that are looked into."""


class Library:
    """Exercise files in folders, the first folder's ids before the next one's."""

    def __init__(self, folders: Sequence[Path], index: Path | None = None, of: str = "") -> None:
        """Look into folders.

        Args:
            folders: where exercises are.
            index: a file that remembers heads between starts; None remembers nothing.
            of: names the folders, for glimpses at the index before they are known (`places.shelf_name`).
        """
        self.folders = tuple(folders)
        self._index = index
        self._of = self._remembered_of = of
        self._known: Known = {}
        self._loaded = False

    def heads(self) -> tuple[Head, ...]:
        """The heads of all exercise files, by folder and then by path; changed files are read again."""
        self._load()
        found: Known = {}
        for path, stamp in self._files():
            before = self._known.get(path)
            found[path] = before if before and before[0] == stamp else (stamp, _head(path))
        changed = found != self._known or self._remembered_of != self._of
        self._known = found  # in the folders' order, which the index has not
        if changed:
            self._remember()
        return tuple(head for _, head in self._known.values() if head is not None)

    def find(self, name: str) -> Path:
        """The file of an exercise named by id or by path.

        Raises:
            ProblemsError: where there is none, with the nearest id.
        """
        path = from_home(name)
        if path.suffix == ENDING or os.sep in name or (path.is_file() and not self._by_id(name)):
            return path
        found = self._by_id(name)
        if found:
            return Path(found[0].file)
        ids = [head.id for head in self.heads()]
        meant = nearest(name, ids)
        hint = f'Did you mean "{meant}"' if meant else "See twinspur list, or give the path of a file"
        raise ProblemsError([Problem("", 0, 0, f'no exercise is called "{name}"', "", hint)])

    def _by_id(self, name: str) -> list[Head]:
        # Most files are named after their id: that one is tried before everything is listed.
        for folder in self.folders:
            path = folder / f"{name}{ENDING}"
            if name and os.sep not in name and path.is_file():
                head = _head(str(path))
                if head and head.id == name:
                    return [head]
        return [head for head in self.heads() if head.id == name]

    def _files(self) -> "Iterator[tuple[str, Stamp]]":
        seen: set[str] = set()
        for folder in self.folders:
            for path, stamp in sorted(_walk(str(folder), MOST_DEPTH)):
                if path not in seen:
                    seen.add(path)
                    yield path, stamp

    def _load(self) -> None:
        if self._loaded:
            return
        self._loaded = True
        if self._index:
            from trainer.notation.index import load  # finding one file by name does not wait for it

            self._known, self._remembered_of = load(self._index)

    def _remember(self) -> None:
        self._remembered_of = self._of
        if not self._index:
            return
        from trainer.notation.index import text_of

        with suppress(OSError, ProblemsError):
            self._index.parent.mkdir(parents=True, exist_ok=True)
            save(self._index, text_of(self._known, self._of))


def _walk(folder: str, depth: int) -> "Iterator[tuple[str, Stamp]]":
    """Exercise files under a folder with when they changed and how big they are; hidden ones are left out."""
    try:
        entries = list(os.scandir(folder))
    except OSError:
        return
    for entry in entries:
        with suppress(OSError):
            if entry.name.startswith("."):
                continue
            if entry.name.endswith(ENDING):
                if entry.is_file():
                    found = entry.stat()
                    yield entry.path, (found.st_mtime_ns, found.st_size)
            elif depth > 0 and entry.is_dir(follow_symlinks=False):
                yield from _walk(entry.path, depth - 1)


def _head(path: str) -> Head | None:
    stem = Path(path).stem
    try:
        return read_head(file_text(Path(path)), path, stem)
    except ProblemsError as error:
        return Head(path, printable(stem), printable(stem), problem=str(error.problems[0]))
