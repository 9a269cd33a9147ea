"""Kept takes: sound and verdict stay together, the oldest go first, marked ones stay, a full disk loses nothing."""

from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.listening.plucked import line, player, record
from trainer.listening.judging import judge_sound
from trainer.listening.midi_take import MidiNote, MidiTake, read_midi_take
from trainer.listening.read_sound import read_sound
from trainer.listening.sound import Sound
from trainer.listening.takes import Takes
from trainer.music.problem import ProblemsError

AT = datetime(2031, 5, 4, 12, 0, 0).astimezone()
ABOUT = {"exercise": "salt-road", "riff": "Gallop", "part": "guitar 1", "tempo_bpm": 120}


@pytest.fixture
def takes(tmp_path: Path) -> Takes:
    return Takes(tmp_path / "takes")


def hum(seconds: float = 0.5) -> Sound:
    return Sound(np.sin(np.arange(int(seconds * 48_000)) / 20).astype(np.float32) * np.float32(0.3), 48_000)


def test_a_take_is_read_back_as_it_was_kept(takes: Takes) -> None:
    written = line((40, 43, 45, 47, 50, 52, 50, 47), 120)
    sound = record(player(written), 4.5)
    judgement = judge_sound(sound, written)
    kept = takes.keep(sound, judgement, ABOUT, AT)
    assert kept.verdict == judgement.verdict
    assert kept.about["riff"] == "Gallop"
    (again,) = read_sound(kept.sound)
    assert np.abs(again.samples - sound.samples).max() < 1e-6


def test_midi_takes_are_kept_to_ten_microseconds(takes: Takes) -> None:
    notes = tuple(MidiNote(Fraction(k * 12_345, 100_000), 40 + k, k % 6, 90) for k in range(20))
    kept = takes.keep(MidiTake(notes), None, ABOUT, AT)
    assert read_midi_take(kept.sound).notes == notes


def test_the_oldest_unmarked_take_goes_first(takes: Takes) -> None:
    kept = [takes.keep(hum(), None, ABOUT, AT + timedelta(minutes=k)) for k in range(4)]
    takes.mark(kept[0].name)
    takes.limit_bytes = 3 * kept[0].size + 100
    takes.keep(hum(), None, ABOUT, AT + timedelta(hours=1))
    names = [take.name for take in takes.all()]
    assert kept[0].name in names
    assert kept[1].name not in names
    assert kept[3].name in names


def test_takes_of_one_second_do_not_collide(takes: Takes) -> None:
    names = {takes.keep(hum(0.1), None, ABOUT, AT).name for _ in range(3)}
    assert len(names) == 3


def test_export_never_overwrites(takes: Takes, tmp_path: Path) -> None:
    kept = takes.keep(hum(), None, ABOUT, AT)
    target = takes.export(kept.name, tmp_path)
    assert target.is_file()
    with pytest.raises(ProblemsError, match="exists already"):
        takes.export(kept.name, target)
    takes.delete(kept.name)
    assert not takes.all()
    with pytest.raises(ProblemsError, match="no take called"):
        takes.delete(kept.name)


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "20310504-120000-000.flac"])
def test_hostile_names_are_no_takes(takes: Takes, name: str) -> None:
    assert takes.take(name) is None


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(ProblemsError, match="cannot be kept"):
        Takes(tmp_path / "file" / "takes").keep(hum(), None, ABOUT, AT)


def test_a_full_disk_leaves_nothing_half() -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full here")
    with pytest.raises((OSError, RuntimeError)):
        from trainer.listening.takes import write_take

        write_take(hum(3.0), full)


def test_damaged_files_are_left_out(takes: Takes) -> None:
    kept = takes.keep(hum(), None, ABOUT, AT)
    (takes.folder / "20310504-130000-000.json").write_text("{")
    (takes.folder / "20310504-140000-000.json").write_text('{"verdict": {"outcome": "golden"}}')
    assert [take.name for take in takes.all()] == [kept.name]
