"""What tells of the player, the record and the takes, is nobody else's to read."""

import stat
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

from tests.practice.made import clock, played
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.practice.log import Log


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_log_is_private_new_and_old(tmp_path: Path) -> None:
    path = tmp_path / "data" / "log.sqlite"
    with Log.open(path, now=clock) as log:
        log.add(played(1))
        assert {mode(each) for each in path.parent.glob("log.sqlite*")} == {0o600}
    assert mode(path.parent) == 0o700
    path.chmod(0o644)
    path.parent.chmod(0o755)
    with Log.open(path, now=clock) as log:
        log.add(played(2))
        assert {mode(each) for each in path.parent.glob("log.sqlite*")} == {0o600}
    assert mode(path.parent) == 0o700


def test_takes_are_private(tmp_path: Path) -> None:
    takes = Takes(tmp_path / "data" / "takes")
    notes = MidiTake((MidiNote(Fraction(1), 40), MidiNote(Fraction(2), 43)))
    kept = takes.keep(notes, None, TakeInfo(part="guitar 1"), datetime(2031, 5, 4, tzinfo=UTC))
    takes.mark(kept.name)
    assert mode(takes.folder) == 0o700
    files = list(takes.folder.iterdir())
    assert len(files) == 2 and {mode(each) for each in files} == {0o600}
