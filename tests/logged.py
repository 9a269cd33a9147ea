"""What a log holds, as a test reads it back: whole passes, newest first."""

import sqlite3

from trainer.practice.passes import Pass
from trainer.practice.reading import SELECT_PASSES, read_pass
from trainer.practice.schema import understood


def newest_passes(db: sqlite3.Connection, most: int = 100) -> tuple[Pass, ...]:
    """The passes logged last, whatever the line, the newest first: `log.ask(newest_passes)`."""
    return tuple(understood(read_pass, db.execute(SELECT_PASSES + "ORDER BY passes.id DESC LIMIT ?", (most,))))
