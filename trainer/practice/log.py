"""The practice log: every pass on disk before the next begins, in one SQLite file.

`Log.open` always gives a log that works. Where the file cannot be written, practising goes on in memory, the player is
told once, and every later change tries the disk again with all that waits. Queries are functions on the database:
`log.ask(reading.lines, "iron-causeway")`; changes likewise: `log.change(goals.put_goal, goal)`.
"""

import contextlib
import sqlite3
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, Self, TypeVar

from trainer.music.problem import Problem
from trainer.practice.goals import Goal
from trainer.practice.opening import (
    DAMAGED,
    Tell,
    UnusableLogError,
    alone,
    check,
    code,
    copy_to_memory,
    in_memory,
    keep_aside,
    open_file,
    own_place,
)
from trainer.practice.passes import Pass
from trainer.practice.recording import add_pass, amend_pass
from trainer.practice.sittings import Place, begin_sitting, end_sitting
from trainer.practice.verdict import Verdict

P = ParamSpec("P")
T = TypeVar("T")

_WHY: dict[int, str] = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk cannot be written",
    sqlite3.SQLITE_READONLY: "it is read-only",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened",
    sqlite3.SQLITE_PERM: "access is denied",
    sqlite3.SQLITE_BUSY: "another program holds it",
    sqlite3.SQLITE_LOCKED: "another program holds it",
}
"""SQLite's result codes that mean: not on this disk now."""


class Log:
    """The player's record. Methods may be called from any thread; one change is one transaction."""

    def __init__(self, path: Path | None, now: Callable[[], datetime], tell: Tell, sitting: str) -> None:
        self._path = None if path is None else own_place(path.absolute(), tell)
        self._now = now
        self._tell = tell
        self._sitting = sitting
        self._lock = threading.RLock()
        self._waiting: list[Callable[[sqlite3.Connection], object]] = []
        self._on_disk = False
        self._inode = 0
        self._closed = False
        self._db = self._first()

    @classmethod
    def open(
        cls,
        path: Path | None,
        *,
        now: Callable[[], datetime],
        tell: Tell = lambda problem: None,
        sitting: str = "",
        process: int = 0,
    ) -> Self:
        """Open the log, or begin it.

        Args:
            path: the file (`data_folder() / "log.sqlite"`); None for a log in memory that ends with the program.
            now: the time, with a time zone.
            tell: hears every problem as it comes up, in words for the player.
            sitting: a fresh id (`uuid4().hex`) when the program practises; empty when it only reads or imports.
            process: the number of the process that sits.
        """
        log = cls(path, now, tell, sitting)
        if sitting:
            log.change(begin_sitting, sitting, process, log._ms())
        return log

    @property
    def kept(self) -> bool:
        """Whether the record is on disk: False while practising goes on in memory."""
        return self._on_disk

    @property
    def path(self) -> Path | None:
        """The file; None for a log in memory."""
        return self._path

    @property
    def sitting(self) -> str:
        """The id of this run of the program; empty when it does not practise."""
        return self._sitting

    def add(
        self, played: Pass, *, ladder: dict[str, Any] | None = None, place: Place | None = None
    ) -> tuple[Goal, ...]:
        """Log a pass, with the ladder's position and the player's place, at once; returns the goals it reached."""
        return self.change(add_pass, played, ladder, place, self._sitting)

    def amend(self, uuid: str, verdict: Verdict) -> tuple[Goal, ...]:
        """Give a logged pass another verdict; returns the goals that are reached by it."""
        return self.change(amend_pass, uuid, verdict, self._ms())

    def ask(self, query: Callable[Concatenate[sqlite3.Connection, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """The answer of a query from `reading`, `goals` or `sittings`."""
        with self._lock:
            try:
                return query(self._db, *args, **kwargs)
            except sqlite3.DatabaseError as error:
                self._mend(error)
                return query(self._db, *args, **kwargs)

    def change(self, change: Callable[Concatenate[sqlite3.Connection, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Carry out a change in one transaction: on disk when it returns, or, when `kept` is False, in memory."""

        def carried_out(db: sqlite3.Connection) -> T:
            return change(db, *args, **kwargs)

        with self._lock:
            self._follow()
            self._try_the_disk()
            try:
                answer = _transact(self._db, carried_out)
            except sqlite3.DatabaseError as error:
                self._mend(error)
                answer = _transact(self._db, carried_out)
            if not self._on_disk and self._path is not None:
                self._waiting.append(carried_out)
            return answer

    def check(self) -> bool:
        """Read the whole file, which takes a while with many passes; keep it aside and begin afresh when damaged.

        Returns:
            Whether it was sound.
        """
        if self._path is None or not self._on_disk:
            return True
        try:
            reader = sqlite3.connect(self._path, isolation_level=None)
            try:
                check(reader)
            finally:
                reader.close()
        except UnusableLogError:
            with self._lock:
                self._begin_afresh()
            return False
        except sqlite3.Error:
            return True  # out of reach is not damaged: the next change will tell
        return True

    def settle(self) -> None:
        """Work the write-ahead log into the file; for idle moments, in a thread of its own. Nothing waits for it."""
        if self._path is None or not self._on_disk:
            return
        with contextlib.suppress(sqlite3.Error):  # what is not settled now is settled later, and safe meanwhile
            aside = sqlite3.connect(self._path, isolation_level=None)
            try:
                aside.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
            finally:
                aside.close()

    def close(self) -> None:
        """End the sitting and close the file; what could not be written is tried a last time, or told.

        May be called twice.
        """
        with self._lock:
            if self._closed:
                return
            if self._sitting:
                self.change(end_sitting, self._sitting, self._ms())
            self._try_the_disk()
            if self._waiting and self._path is not None:
                what = "What was practised since the log could not be written is lost with this window"
                self._told(what, "Make room in the folder, or make it writable, before practising again")
            self._db.close()
            self._closed = True

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _first(self) -> sqlite3.Connection:
        if self._path is None:
            return in_memory()
        try:
            db = open_file(self._path, self._now(), self._tell)
        except (OSError, sqlite3.Error) as error:
            self._say_in_memory(error)
            return copy_to_memory(self._path)
        self._on_disk = True
        self._inode = self._path.stat().st_ino
        return db

    def _mend(self, error: sqlite3.DatabaseError) -> None:
        """Make the log work again after `error`, or raise it."""
        if self._on_disk and code(error) in DAMAGED:
            self._begin_afresh()
        elif self._on_disk and code(error) in _WHY:
            self._leave_the_disk(error)
        else:
            raise error

    def _leave_the_disk(self, error: OSError | sqlite3.Error) -> None:
        memory = in_memory()
        try:
            self._db.backup(memory)
        except sqlite3.Error:
            memory.close()
            memory = in_memory()
        self._db.close()
        self._db, self._on_disk = memory, False
        self._say_in_memory(error)

    def _try_the_disk(self) -> None:
        """Write what waits, if the disk takes it again."""
        if self._on_disk or self._path is None:
            return
        try:
            disk = open_file(self._path, self._now(), self._tell)
        except (OSError, sqlite3.Error):
            return
        try:
            _transact(disk, lambda db: [change(db) for change in self._waiting])
        except sqlite3.Error:
            disk.close()
            return
        self._db.close()
        self._db, self._on_disk = disk, True
        self._inode = self._path.stat().st_ino
        self._waiting.clear()
        self._told("The practice log can be written again, and nothing is missing from it", "")

    def _follow(self) -> None:
        """The file was moved or deleted while it was open: go on in the one that is, or should be, at its path."""
        if not self._on_disk or self._path is None:
            return
        try:
            if self._path.stat().st_ino == self._inode:
                return
            missing = False
        except FileNotFoundError:
            missing = True
        except OSError:
            return  # the change itself will tell
        try:
            disk = open_file(self._path, self._now(), self._tell)
            if missing:
                self._db.backup(disk)
                self._told("The practice log was moved or deleted while it was open: it is written again, whole", "")
        except (OSError, sqlite3.Error) as error:
            self._leave_the_disk(error)
        else:
            self._db.close()
            self._db, self._inode = disk, self._path.stat().st_ino

    def _begin_afresh(self) -> None:
        """The open file turned out damaged: keep it aside."""
        if self._path is None:
            return
        self._db.close()
        kept = ""
        try:
            with alone(self._path):
                if self._path.stat().st_ino == self._inode:  # else another window has kept it aside already
                    kept = str(keep_aside(self._path, "damaged", self._now()))
            self._db = open_file(self._path, self._now(), self._tell)
            self._inode = self._path.stat().st_ino
        except (OSError, sqlite3.Error) as error:
            self._db, self._on_disk = in_memory(), False
            self._say_in_memory(error)
            return
        where = f"as {Path(kept).name}" if kept else "aside"
        what = f"The practice log is damaged. It is kept {where}, and a fresh log is begun"
        self._told(what, f"Bring back what can still be read with: twinspur log --import {kept}" if kept else "")

    def _say_in_memory(self, error: OSError | sqlite3.Error) -> None:
        why = (error.strerror or str(error)) if isinstance(error, OSError) else _WHY.get(code(error), str(error))
        self._told(
            f"The practice log cannot be written: {why[:1].lower()}{why[1:]}. "
            "You can practise, but the record is kept in memory only",
            "Make room in the folder, or make it writable: what you play is written as soon as that is possible",
        )

    def _told(self, what: str, hint: str) -> None:
        self._tell(Problem(str(self._path), 0, 0, what, "", hint))

    def _ms(self) -> int:
        return round(self._now().timestamp() * 1000)


def _transact(db: sqlite3.Connection, change: Callable[[sqlite3.Connection], T]) -> T:
    db.execute("BEGIN IMMEDIATE")
    try:
        answer = change(db)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    return answer
