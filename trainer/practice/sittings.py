"""Where the player was, so that the next start can go on there; and which port may still hold a note.

A sitting is one run of the program. It keeps its place with every pass; one that never ended was cut short.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from trainer.practice.line import Line
from trainer.values import NotUnderstoodError, read_json, to_json

KEPT = 50
"""So many sittings are remembered."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the player is."""

    line: Line
    """Exercise, riff, and my part."""
    first_bar: int
    last_bar: int
    tempo_bpm: float
    port: str = ""
    """The MIDI port that sounds; empty for the built-in synth."""
    way: str = ""
    """How the loop is practised, as in a pass."""
    heard: tuple[str, ...] = ()
    """The parts that are heard; empty: all."""


@dataclass(frozen=True, slots=True)
class Sitting:
    """One run of the program, as the log remembers it."""

    id: str
    process: int
    """The process that it ran in."""
    saved_ms: int
    """When it last kept its place; milliseconds since 1970."""
    ended: bool
    """Whether it ended in order."""
    port: str
    """The last port it used; empty: none."""
    place: Place | None
    """None when nothing was played."""


def begin_sitting(db: sqlite3.Connection, sitting: str, process: int, at_ms: int) -> None:
    """The program starts."""
    db.execute("INSERT OR IGNORE INTO sittings VALUES(?, ?, ?, ?, NULL, '', '')", (sitting, process, at_ms, at_ms))
    db.execute("DELETE FROM sittings WHERE id NOT IN (SELECT id FROM sittings ORDER BY saved_ms DESC LIMIT ?)", (KEPT,))


def keep_place(db: sqlite3.Connection, sitting: str, place: Place, at_ms: int) -> None:
    """The player is here now."""
    told = to_json(place)
    db.execute("UPDATE sittings SET place = ?, saved_ms = ? WHERE id = ?", (told, at_ms, sitting))
    if place.port:
        use_port(db, sitting, place.port)


def use_port(db: sqlite3.Connection, sitting: str, port: str) -> None:
    """A port is about to sound: keep its name before the first note goes out."""
    db.execute("UPDATE sittings SET port = ? WHERE id = ?", (port, sitting))


def end_sitting(db: sqlite3.Connection, sitting: str, at_ms: int) -> None:
    """The program ends in order, with all notes off."""
    db.execute("UPDATE sittings SET ended_ms = ?, saved_ms = max(saved_ms, ?) WHERE id = ?", (at_ms, at_ms, sitting))


def sittings(db: sqlite3.Connection) -> tuple[Sitting, ...]:
    """The sittings that are remembered, the last one first."""
    found = db.execute(
        "SELECT id, process, saved_ms, ended_ms, port, place FROM sittings ORDER BY saved_ms DESC, rowid DESC"
    )
    return tuple(
        Sitting(i, process, at, ended is not None, port, _place(place)) for i, process, at, ended, port, place in found
    )


def ports_to_silence(db: sqlite3.Connection, runs: Callable[[int], bool], but: str = "") -> tuple[str, ...]:
    """Ports of sittings that were cut short: send them all-notes-off.

    Args:
        db: the log.
        runs: whether a process of this number is running, so that another open window is left alone.
        but: the sitting that asks.
    """
    cut = (found.port for found in sittings(db) if found.port and not found.ended and found.id != but)
    busy = {found.port for found in sittings(db) if not found.ended and found.id != but and runs(found.process)}
    return tuple(dict.fromkeys(port for port in cut if port not in busy))


def silenced(db: sqlite3.Connection, runs: Callable[[int], bool], at_ms: int, but: str = "") -> None:
    """The ports of the cut sittings were silenced: do not do it again."""
    for found in sittings(db):
        if not found.ended and found.id != but and not runs(found.process):
            db.execute("UPDATE sittings SET ended_ms = ? WHERE id = ?", (at_ms, found.id))


def mark_seen(db: sqlite3.Connection, text: str, at_ms: int) -> None:
    """The player has seen a text (a caution) and put it away."""
    db.execute("INSERT OR IGNORE INTO seen VALUES(?, ?)", (text, at_ms))


def seen(db: sqlite3.Connection) -> frozenset[str]:
    """The texts that the player put away."""
    return frozenset(text for (text,) in db.execute("SELECT text FROM seen"))


def _place(told: str) -> Place | None:
    """None also for what a later version may have written here."""
    try:
        return read_json(Place, told)
    except NotUnderstoodError:
        return None
