"""Where the player was on the stand, kept between starts in one small file that may be lost without harm."""

import json
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from trainer.music.problem import ProblemsError
from trainer.notation.files import save

if TYPE_CHECKING:
    from trainer.session.choices import Choices

T = TypeVar("T")

VERSION = 1
MOST = 500
"""Riffs that are remembered; the longest unused are forgotten first."""
LARGEST = 4 * 1024 * 1024
GATHER_S = 0.5
"""Seconds from a change to its being written; what changes meanwhile is written with it."""


@dataclass(frozen=True)  # with slots, a generic one cannot be made (CPython 3.11)
class MemoryKey(Generic[T]):
    """One thing that is remembered beside the choices for riffs.

    >>> from trainer.session.memory import THEME, SessionMemory
    >>> memory = SessionMemory(None)
    >>> memory.put(THEME, "light")
    >>> memory.get(THEME)
    'light'
    """

    name: str
    """In the file."""
    usual: T
    """While nothing is remembered, or nothing that makes sense."""
    kind: Any = None
    """The type that `values.read` makes of it; None for what JSON has itself."""


THEME = MemoryKey("theme", "")
OUTPUT = MemoryKey("out", "")
"""The MIDI port that sounds; empty for the synth."""
INPUT = MemoryKey("ear", "")
"""The MIDI input through which the player is heard; empty for the sound card."""
DECIDES = MemoryKey("decides", "")
"""Whose word on a pass counts, as `verdict.Decides` has it."""
HEADPHONES_READ = MemoryKey("headphones", False)
"""Whether the player has read the advice to wear headphones."""
SHELF_EXERCISE = MemoryKey("shelf exercise", "")
"""The file under the shelf's cursor."""
SHELF_SEARCH: MemoryKey[dict[str, Any]] = MemoryKey("shelf wanted", {})
LOGBOOK_EXERCISE = MemoryKey("logbook exercise", "")
"""The exercise whose record shall be shown next."""


class SessionMemory:
    """The choices of every riff that was practised lately, the last one, and what a `MemoryKey` stands for.

    Changes are written by a thread of their own, half a second later and many at once: whoever changes something waits
    for no disk, and a crash loses no more than that. `close` writes what is left. What another window or command has
    written meanwhile stays. May be used from any thread.
    """

    def __init__(
        self, path: Path | None, tell: Callable[[str], None] = lambda _: None, gather_s: float = GATHER_S
    ) -> None:
        """Read the file.

        Args:
            path: the file; None remembers nothing beyond this run.
            tell: hears, once, that nothing can be kept; from any thread.
            gather_s: seconds from a change to its being written.
        """
        self._path, self._tell, self._gather_s = path, tell, gather_s
        self._told = False
        self._lock = threading.Lock()
        self._writing = threading.Lock()
        self._hurry = threading.Event()
        self._waits = False
        self._riffs, self._last, self._other = self._read()
        self._new_riffs: dict[str, dict[str, Any]] = {}
        self._new_other: dict[str, Any] = {}

    @property
    def last(self) -> tuple[str, str] | None:
        """The exercise's id and the riff (empty: the whole form) that were on the stand last."""
        return self._last

    def choices(self, exercise: str, riff: str) -> "Choices | None":
        """What was chosen for a riff; None when it never was on the stand."""
        from trainer.session.choices import Choices

        found = self._riffs.get(_key(exercise, riff))
        return None if found is None else Choices.from_dict(found)

    def keep(self, exercise: str, riff: str, choices: "Choices") -> None:
        """Remember a riff's choices, and that it was the last one."""
        key, told = _key(exercise, riff), choices.as_dict()
        with self._lock:
            if self._last == (exercise, riff) and self._riffs.get(key) == told:
                return
            self._riffs = _newest({**{name: each for name, each in self._riffs.items() if name != key}, key: told})
            self._new_riffs.pop(key, None)
            self._new_riffs[key] = told
            self._last = exercise, riff
        self._write_later()

    def get(self, key: MemoryKey[T]) -> T:
        """What is remembered under a key; the usual value where nothing is, or nothing that makes sense."""
        value = self._other.get(key.name)
        if value is None:
            return key.usual
        if key.kind is None:
            return value if isinstance(value, type(key.usual)) else key.usual
        from trainer.values import NotUnderstoodError, read

        try:
            found: T = read(key.kind, value)
        except NotUnderstoodError:
            return key.usual
        return found

    def put(self, key: MemoryKey[T], value: T) -> None:
        """Remember something under a key."""
        told: Any = value
        if key.kind is not None:
            from trainer.values import plain

            told = plain(value)
        with self._lock:
            if self._other.get(key.name) == told:
                return
            self._other = {**self._other, key.name: told}
            self._new_other[key.name] = told
        self._write_later()

    def close(self) -> None:
        """Write what waits, now; changes afterwards are written at once."""
        self._gather_s = 0.0
        self._hurry.set()
        self._write()

    def _write_later(self) -> None:
        if self._path is None:
            return
        if self._gather_s <= 0:
            self._write()
            return
        with self._lock:
            if self._waits:
                return
            self._waits = True
        # Not a daemon: a program that ends waits for it.
        threading.Thread(target=self._gather, name="memory", daemon=False).start()

    def _gather(self) -> None:
        self._hurry.wait(self._gather_s)
        with self._lock:
            self._waits = False
        self._write()

    def _read(self) -> tuple[dict[str, dict[str, Any]], tuple[str, str] | None, dict[str, Any]]:
        """The riffs, the last one, and everything else, as the file has them; nothing where it makes no sense."""
        if self._path is None:
            return {}, None, {}
        with suppress(OSError, ValueError, TypeError, KeyError, AttributeError, IndexError, RecursionError):
            if self._path.stat().st_size <= LARGEST:
                kept = json.loads(self._path.read_text("utf-8"))
                if kept["version"] == VERSION:
                    riffs = {str(key): dict(value) for key, value in kept["riffs"].items()}
                    last = kept["last"]
                    return riffs, (str(last[0]), str(last[1])) if last else None, dict(kept["other"])
        return {}, None, {}

    def _write(self) -> None:
        if self._path is None:
            return
        with self._writing:
            with self._lock:
                new_riffs, new_other, last = self._new_riffs, self._new_other, self._last
                self._new_riffs, self._new_other = {}, {}
            if not new_riffs and not new_other:
                return
            riffs, last_there, other = self._read()
            older = {key: value for key, value in riffs.items() if key not in new_riffs}
            told = {
                "version": VERSION,
                "last": last if new_riffs else last_there or last,
                "riffs": _newest(older | new_riffs),
                "other": other | new_other,
            }
            try:
                self._path.parent.mkdir(parents=True, exist_ok=True)
                save(self._path, json.dumps(told, ensure_ascii=False, indent=0))
            except (OSError, ProblemsError) as error:
                with self._lock:  # to be tried again with the next change
                    self._new_riffs, self._new_other = new_riffs | self._new_riffs, new_other | self._new_other
                if not self._told:
                    self._told = True
                    self._tell(f"Where you are cannot be kept for the next start: {error}")


def _newest(riffs: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The last so many."""
    return dict(list(riffs.items())[-MOST:])


def _key(exercise: str, riff: str) -> str:
    return f"{exercise}\n{riff}"
