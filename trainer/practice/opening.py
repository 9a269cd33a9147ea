"""Opening the log's file: new, older, newer, damaged, or out of reach. Nothing is ever overwritten or deleted.

Only the player can read the file. A commit is on disk when it returns (write-ahead log, synchronous FULL): neither a
killed process nor a power cut loses a logged pass, as far as the disk keeps its word about flushing.
"""

import contextlib
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from trainer.music.problem import Problem
from trainer.places import keep_private, private_folder
from trainer.practice.schema import APPLICATION_ID, MIGRATIONS, migrate

if sys.platform != "win32":
    import fcntl

BUSY_MS = 5000
"""How long one window waits for another that is writing."""
SMALL_BYTES = 4_000_000
"""A file up to this size is checked whole at the start; a larger one by `Log.check`, which the program runs aside."""
AHEAD_PAGES = 8000
"""The write-ahead log is worked into the file by `Log.settle`, which the program runs aside; a pass does it only when
there are so many pages (32 MB), because it takes longer than a pass may."""
DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
"""SQLite's result codes for a file that is no sound database."""

Tell = Callable[[Problem], None]


class UnusableLogError(Exception):
    """The file cannot serve as the log; `why` names it in the file that is kept aside."""

    def __init__(self, why: str, sentence: str) -> None:
        super().__init__(sentence)
        self.why = why


class NewerLogError(OSError):
    """The log at this path was written by a newer version of the program, which had better go on with it."""


def own_place(path: Path, tell: Tell) -> Path:
    """Where this version of the program keeps its log: at `path`, or beside a log there that a newer version wrote.

    The newer log stays as it is. The one beside it goes on from start to start.
    """
    try:
        version = _version_of(path)
    except (OSError, sqlite3.Error):
        return path  # opening it tells what is wrong
    if version <= len(MIGRATIONS):
        return path
    beside = path.with_name(f"{path.stem}.version-{len(MIGRATIONS)}{path.suffix}")
    what = (
        "The practice log was written by a newer version of the program. It stays as it is, and what you practise now "
        f"is kept in {beside.name}"
    )
    hint = f"Update the program, then bring both together with: twinspur log --import {beside}"
    tell(Problem(str(path), 0, 0, what, "", hint))
    return beside


def _version_of(path: Path) -> int:
    """The version of the practice log at `path`; 0 where there is none. Raises OSError and sqlite3.Error."""
    if not path.is_file():
        return 0
    keep_private(path)  # SQLite gives the files beside it the same permissions
    with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as db:
        owner = db.execute("PRAGMA application_id").fetchone()[0]
        return int(db.execute("PRAGMA user_version").fetchone()[0]) if owner == APPLICATION_ID else 0


def code(error: sqlite3.Error) -> int:
    """SQLite's primary result code of an error; 0 when it has none."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def open_file(path: Path, now: datetime, tell: Tell) -> sqlite3.Connection:
    """A connection to the log at `path`, in the newest version.

    A damaged or foreign file is kept aside under another name beside it, and a fresh one is begun.

    Raises:
        OSError, sqlite3.Error: when the file cannot be written.
    """
    private_folder(path.parent)
    try:
        return _connect(path)
    except UnusableLogError:
        with alone(path):
            return _replace(path, now, tell)


def keep_aside(path: Path, why: str, now: datetime) -> Path:
    """Give the file at `path` (with what SQLite keeps beside it) another name in its folder, and return it."""
    stamp = f"{path.stem}.{why}-{now:%Y%m%d-%H%M%S}"
    number = 1
    while (kept := path.with_name(f"{stamp}{f'-{number}' if number > 1 else ''}{path.suffix}")).exists():
        number += 1
    path.rename(kept)
    for tail in ("-wal", "-shm"):
        beside = path.with_name(path.name + tail)
        if beside.exists():
            beside.rename(kept.with_name(kept.name + tail))
    return kept


def copy_to_memory(path: Path) -> sqlite3.Connection:
    """The log in memory: with what the file at `path` holds when it can be read, else empty."""
    memory = in_memory()
    try:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / path.name
            shutil.copyfile(path, copy)
            beside = path.with_name(path.name + "-wal")
            if beside.exists():
                shutil.copyfile(beside, copy.with_name(copy.name + "-wal"))
            with contextlib.closing(_connect(copy)) as disk:
                disk.backup(memory)
    except (OSError, sqlite3.Error, UnusableLogError):
        memory.close()
        return in_memory()
    return memory


def in_memory() -> sqlite3.Connection:
    """A log that ends with the program."""
    db = _opened(":memory:")
    migrate(db)
    return db


def _opened(path: Path | str) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False)


def _connect(path: Path) -> sqlite3.Connection:
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))  # SQLite gives the files beside it the same permissions
    keep_private(path)
    db = _opened(path)
    try:
        _inspect(db, path)
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute(f"PRAGMA wal_autocheckpoint = {AHEAD_PAGES}")
        migrate(db)
        db.execute("BEGIN IMMEDIATE")  # says now, not at the first pass, that the file cannot be written
        db.execute("ROLLBACK")
    except sqlite3.Error as error:
        db.close()
        if code(error) in DAMAGED:
            raise UnusableLogError("damaged", "The practice log is damaged") from error
        raise
    except (UnusableLogError, NewerLogError):
        db.close()
        raise
    return db


def _inspect(db: sqlite3.Connection, path: Path) -> None:
    """Raise UnusableLogError when the file is newer than this program, somebody else's, or damaged."""
    version = db.execute("PRAGMA user_version").fetchone()[0]
    owner = db.execute("PRAGMA application_id").fetchone()[0]
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    if not tables and not version and not owner:
        return
    if owner != APPLICATION_ID:
        raise UnusableLogError("foreign", "The file in the practice log's place is not a practice log")
    if version > len(MIGRATIONS):
        raise NewerLogError(f"A newer version of the program has taken over {path.name}: start again")
    if path.stat().st_size <= SMALL_BYTES:
        check(db)


def check(db: sqlite3.Connection) -> None:
    """Read the whole file.

    Raises:
        UnusableLogError: when it is damaged.
    """
    try:
        (found,) = db.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        if code(error) not in DAMAGED:
            raise
        found = str(error)
    if found != "ok":
        raise UnusableLogError("damaged", "The practice log is damaged")


def _replace(path: Path, now: datetime, tell: Tell) -> sqlite3.Connection:
    """Keep the unusable file aside and begin a fresh one; unless another window has just done so."""
    try:
        return _connect(path)
    except UnusableLogError as unusable:
        kept = keep_aside(path, unusable.why, now)
        db = _connect(path)
        hint = f"Bring back what can still be read with: twinspur log --import {kept}"
        tell(Problem(str(path), 0, 0, f"{unusable}. It is kept as {kept.name}, and a fresh log is begun", "", hint))
        return db


@contextlib.contextmanager
def alone(path: Path) -> Iterator[None]:
    """No other window keeps the file aside at the same time."""
    if sys.platform == "win32":
        yield
        return
    with path.with_name(path.name + ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
