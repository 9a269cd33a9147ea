"""Killed, shared, damaged, newer, read-only, full: the log loses nothing and always says what happened."""

import random
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from pathlib import Path

import pytest

from tests.logged import newest_passes
from tests.open_logs import closed_later
from tests.practice.killing import kill_often
from tests.practice.made import LEAD, clock, played
from trainer.music.problem import Problem
from trainer.practice import reading
from trainer.practice.log import Log
from trainer.practice.opening import keep_aside
from trainer.practice.schema import MIGRATIONS, migrate


def test_killed_at_random_moments_it_loses_no_pass_and_stays_sound(tmp_path: Path) -> None:
    kills = kill_often(tmp_path / "log.sqlite", 40, seed=5, longest=0.08)
    assert kills.logged >= 40  # on a busy machine few passes fit between two kills, one at least
    assert (kills.lost, kills.unsound, kills.places_lost) == (0, 0, 0)


def test_two_windows_write_at_once_and_nothing_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    command = [sys.executable, "-m", "tests.practice.practising", str(path)]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
    windows = [subprocess.Popen([*command, str(first), "400"], **quiet) for first in (0, 10_000)]
    with Log.open(path, now=clock) as third:
        for number in range(20_000, 20_050):
            third.add(played(number))
        said = [window.communicate(timeout=60)[1] for window in windows]
        assert said == [b"", b""]  # each waited for its turn: none had to practise in memory
        record = third.ask(reading.line, LEAD)
        assert record is not None and record.passes == record.clean == 850
        assert third.ask(reading.totals).passes == 850
        assert third.kept


def damage(path: Path, seed: int) -> None:
    """Overwrite a page and a half in the middle."""
    content = bytearray(path.read_bytes())
    start = len(content) // 2
    content[start : start + 6000] = random.Random(seed).randbytes(6000)
    path.write_bytes(content)


def filled(path: Path, passes: int = 300) -> None:
    with Log.open(path, now=clock) as log:
        for number in range(passes):
            log.add(played(number))


@pytest.mark.parametrize("kind", ["middle", "head", "text", "cut", "foreign"])
def test_a_damaged_file_is_kept_aside_as_it_was_and_the_player_is_told(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "log.sqlite"
    filled(path)
    if kind == "middle":
        damage(path, 1)
    elif kind == "head":
        path.write_bytes(bytes(200) + path.read_bytes()[200:])
    elif kind == "text":
        path.write_text("not a database at all, " * 100)
    elif kind == "cut":
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    else:
        path.unlink()
        other = sqlite3.connect(path)
        other.execute("CREATE TABLE recipes(name)")
        other.close()
    before = path.read_bytes()
    told: list[Problem] = []
    with Log.open(path, now=clock, tell=told.append) as log:
        assert log.kept and log.ask(reading.totals).passes == 0
        log.add(played(1))
    (kept,) = tmp_path.glob("log.*-20310301-120000.sqlite")
    assert kept.read_bytes() == before
    assert len(told) == 1 and kept.name in str(told[0]) and "fresh log is begun" in str(told[0])
    with Log.open(path, now=clock, tell=told.append) as log:
        assert log.ask(reading.totals).passes == 1
    assert len(told) == 1


def test_damage_that_is_met_while_practising_loses_no_new_pass(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    filled(path, 60)
    told: list[Problem] = []
    with Log.open(path, now=clock, tell=told.append) as log:
        log.add(played(100))
        log.ask(sqlite3.Connection.execute, "PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        content = bytearray(path.read_bytes())
        content[4096:] = random.Random(3).randbytes(len(content) - 4096)
        path.write_bytes(content)
        log.ask(sqlite3.Connection.execute, "PRAGMA shrink_memory")
        log.add(played(101))
        assert log.ask(newest_passes)[0] == played(101)
        assert "kept as log.damaged-" in str(told[0])
        log.add(played(102))
    with Log.open(path, now=clock) as log:
        assert log.ask(reading.totals).passes == 2


def test_a_large_file_is_checked_aside(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    filled(path)
    with Log.open(path, now=clock) as log:
        assert log.check()
        log.ask(sqlite3.Connection.execute, "PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        damage(path, 2)
        assert not log.check()
        assert log.kept and log.ask(reading.totals).passes == 0
    assert list(tmp_path.glob("log.damaged-*.sqlite"))


def test_a_newer_log_stays_where_it_is_and_practising_goes_on_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    filled(path, 20)
    newer = sqlite3.connect(path)
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    before = path.read_bytes()
    told: list[Problem] = []
    for number in (1, 2):
        with Log.open(path, now=clock, tell=told.append) as log:
            log.add(played(number))
            assert (log.kept, log.ask(reading.totals).passes) == (True, number)
    assert path.read_bytes() == before
    beside = tmp_path / f"log.version-{len(MIGRATIONS)}.sqlite"
    assert beside.exists()
    assert len(told) == 2 and "newer version of the program" in str(told[0]) and "Update the program" in str(told[0])
    assert f"log --import {beside}" in str(told[0])


def test_a_file_kept_aside_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    for text in ("one " * 50, "two " * 50, "three " * 50):
        path.write_text(text)
        Log.open(path, now=clock).close()
    kept = {file.read_text()[:3] for file in tmp_path.glob("log.damaged-*.sqlite")}
    assert kept == {"one", "two", "thr"}


def test_an_older_log_is_migrated_all_or_nothing(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    filled(path, 5)
    db = sqlite3.connect(path, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError):
        migrate(db, (*MIGRATIONS, "ALTER TABLE goals ADD COLUMN why TEXT; ALTER TABLE nowhere ADD COLUMN x"))
    assert db.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    assert "why" not in [column[1] for column in db.execute("PRAGMA table_info(goals)")]
    migrate(db, (*MIGRATIONS, "ALTER TABLE goals ADD COLUMN why TEXT"))
    assert db.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS) + 1,)
    assert db.execute("SELECT count(*), max(seconds) FROM passes").fetchone() == (5, 9.5)
    db.close()


def test_in_a_folder_that_cannot_be_practising_goes_on_in_memory(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    told: list[Problem] = []
    with Log.open(tmp_path / "file" / "log.sqlite", now=clock, tell=told.append) as log:
        log.add(played(1))
        assert not log.kept and log.ask(reading.totals).passes == 1
        assert len(told) == 1
        assert "You can practise, but the record is kept in memory only. Make room in the folder" in str(told[0])
    assert len(told) == 2 and "is lost with this window" in str(told[1])


AS_A_PLAYER = """
import os, sys
from pathlib import Path
from tests.practice.made import clock, played
from trainer.practice import reading
from trainer.practice.log import Log
path = Path(sys.argv[1])
import fsrs  # loaded while the interpreter's own folder may still be read
path.chmod(0o444), path.parent.chmod(0o555)
if os.getuid() == 0:
    os.setuid(65534)
told = []
log = Log.open(path, now=clock, tell=told.append)
log.add(played(900))
print(log.kept, log.ask(reading.totals).passes, len(told), told[0])
"""


def test_a_read_only_folder_is_read_and_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    filled(folder / "log.sqlite", 20)
    for parent in (tmp_path, *tmp_path.parents):
        if not parent.is_relative_to(tempfile.gettempdir()) or parent == Path(tempfile.gettempdir()):
            break
        parent.chmod(0o755)
    before = (folder / "log.sqlite").read_bytes()
    command = [sys.executable, "-c", AS_A_PLAYER, str(folder / "log.sqlite")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=Path.cwd())
    folder.chmod(0o755)
    assert done.stdout.startswith("False 21 1 ") and "The practice log cannot be written" in done.stdout
    assert (folder / "log.sqlite").read_bytes() == before


FILLING = textwrap.dedent("""
    import resource, sys
    from pathlib import Path
    from tests.practice.made import clock, played
    from trainer.practice import reading
    from trainer.practice.log import Log
    told = []
    log = Log.open(Path(sys.argv[1]), now=clock, tell=told.append)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))
    number = 0
    while log.kept:
        log.add(played(number))
        number += 1
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, resource.RLIM_INFINITY))
    for number in range(number, number + 50):
        log.add(played(number))
    print(log.kept, log.ask(reading.totals).passes == number + 1, len(told), told[0])
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    log.add(played(number + 1))
    print(log.kept, log.ask(reading.totals).passes == number + 2, len(told), told[-1])
    log.close()
    print(number + 2)
""")


def test_on_a_full_disk_practising_goes_on_and_all_is_written_when_there_is_room(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    done = subprocess.run([sys.executable, "-c", FILLING, str(path)], capture_output=True, text=True, check=True)
    full, room, passes = done.stdout.splitlines()
    assert full.startswith("False True 1 ") and "You can practise" in full
    assert room.startswith("True True 2 ") and "nothing is missing" in room
    with Log.open(path, now=clock) as log:
        assert log.ask(reading.totals).passes == int(passes)


def test_a_database_that_may_not_grow_counts_as_a_full_disk(tmp_path: Path) -> None:
    told: list[Problem] = []
    with Log.open(tmp_path / "log.sqlite", now=clock, tell=told.append) as log:
        log.ask(sqlite3.Connection.execute, "PRAGMA max_page_count = 30").fetchone()
        for number in range(400):
            log.add(played(number))
        assert "the disk is full" in str(told[0])
        assert log.kept  # a fresh connection may grow again: what waited is written
        assert log.ask(reading.totals).passes == 400


def test_a_log_deleted_under_an_open_window_is_written_again_whole(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    told: list[Problem] = []
    with Log.open(path, now=clock, tell=told.append) as log:
        log.add(played(1))
        for file in tmp_path.glob("log.sqlite*"):
            file.unlink()
        log.add(played(2))
        assert log.kept and "moved or deleted while it was open" in str(told[0])
    with Log.open(path, now=clock) as log:
        assert log.ask(reading.totals).passes == 2


def test_a_window_follows_when_another_kept_the_file_aside(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log.open(path, now=clock) as first:
        first.add(played(1))
        keep_aside(path, "damaged", clock())
        with Log.open(path, now=clock) as second:
            second.add(played(2))
            first.add(played(3))
            assert [one.uuid[-1] for one in second.ask(newest_passes)] == ["3", "2"]
            second.add(played(4))
    with Log.open(path, now=clock) as log:
        assert log.ask(reading.totals).passes == 3 and log.check()


def test_settling_works_the_write_ahead_log_into_the_file_and_disturbs_nothing(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with Log.open(path, now=clock) as log:
        for number in range(50):
            log.add(played(number))
        before = path.stat().st_size
        log.settle()
        assert path.stat().st_size > before
        log.add(played(50))
        assert log.ask(reading.totals).passes == 51
    closed_later(Log.open(None, now=clock)).settle()


def test_a_log_in_memory_needs_no_file() -> None:
    with Log.open(None, now=clock) as log:
        log.add(played(1))
        assert log.ask(reading.totals).passes == 1 and log.check() and log.path is None
