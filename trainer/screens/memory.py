"""Where the player was on the stand, kept between starts in one small file that may be lost without harm."""

import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.music.problem import ProblemsError
from trainer.notation.files import save

if TYPE_CHECKING:
    from trainer.screens.choices import Choices

VERSION = 1
MOST = 500
"""Riffs that are remembered; the longest unused are forgotten first."""
LARGEST = 4 * 1024 * 1024


class Memory:
    """The choices of every riff that was practised lately, the last one and what else screens keep."""

    def __init__(self, path: Path | None, tell: Callable[[str], None] = lambda _: None) -> None:
        """Read the file.

        Args:
            path: the file; None remembers nothing beyond this run.
            tell: hears, once, that nothing can be kept.
        """
        self._path = path
        self._tell = tell
        self._told = False
        self._riffs: dict[str, dict[str, Any]] = {}
        self._last: tuple[str, str] | None = None
        self._other: dict[str, Any] = {}
        self._read()

    @property
    def last(self) -> tuple[str, str] | None:
        """The exercise's id and the riff (empty: the whole form) that were on the stand last."""
        return self._last

    def choices(self, exercise: str, riff: str) -> "Choices | None":
        """What was chosen for a riff; None when it never was on the stand."""
        from trainer.screens.choices import Choices

        found = self._riffs.get(_key(exercise, riff))
        return None if found is None else Choices.from_dict(found)

    def keep(self, exercise: str, riff: str, choices: "Choices") -> None:
        """Remember a riff's choices, and that it was the last one; on disk when this returns."""
        key, told = _key(exercise, riff), choices.as_dict()
        if self._last == (exercise, riff) and self._riffs.get(key) == told:
            return
        self._riffs.pop(key, None)
        self._riffs[key] = told
        while len(self._riffs) > MOST:
            del self._riffs[next(iter(self._riffs))]
        self._last = exercise, riff
        self._write()

    def get(self, name: str) -> Any:
        """Anything else that was kept under a name; None when nothing was."""
        return self._other.get(name)

    def put(self, name: str, value: Any) -> None:
        """Keep a plain value (as JSON has them) under a name."""
        if self._other.get(name) != value:
            self._other[name] = value
            self._write()

    def _read(self) -> None:
        if self._path is None:
            return
        with suppress(OSError, ValueError, TypeError, KeyError, AttributeError):
            if self._path.stat().st_size > LARGEST:
                return
            kept = json.loads(self._path.read_text("utf-8"))
            if kept["version"] == VERSION:
                self._riffs = {str(key): dict(value) for key, value in kept["riffs"].items()}
                self._other = dict(kept["other"])
                last = kept["last"]
                self._last = (str(last[0]), str(last[1])) if last else None

    def _write(self) -> None:
        if self._path is None:
            return
        told = {"version": VERSION, "last": self._last, "riffs": self._riffs, "other": self._other}
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            save(self._path, json.dumps(told, ensure_ascii=False, indent=0))
        except (OSError, ProblemsError) as error:
            if not self._told:
                self._told = True
                self._tell(f"Where you are cannot be kept for the next start: {error}")


def _key(exercise: str, riff: str) -> str:
    return f"{exercise}\n{riff}"
