"""Kept takes: sound and verdict stay together, the oldest go first, marked ones stay, a full disk loses nothing."""

import json
from dataclasses import replace
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
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.music.problem import ProblemsError

AT = datetime(2031, 5, 4, 12, 0, 0).astimezone()
INFO = TakeInfo(exercise="salt-road", riff="Gallop", part="guitar 1", tempo_bpm=120.0)


@pytest.fixture
def takes(tmp_path: Path) -> Takes:
    return Takes(tmp_path / "takes")


def hum(seconds: float = 0.5) -> Sound:
    return Sound(np.sin(np.arange(int(seconds * 48_000)) / 20).astype(np.float32) * np.float32(0.3), 48_000)


def test_a_take_is_read_back_as_it_was_kept(takes: Takes) -> None:
    written = line((40, 43, 45, 47, 50, 52, 50, 47), 120)
    sound = record(player(written), 4.5)
    judgement = judge_sound(sound, written)
    kept = takes.keep(sound, judgement, INFO, AT)
    assert kept.verdict == judgement.verdict
    assert kept.info.riff == "Gallop"
    (again,) = read_sound(kept.sound)
    assert np.abs(again.samples - sound.samples).max() < 1e-6


def test_what_a_later_or_an_earlier_version_kept_is_not_lost(takes: Takes) -> None:
    kept = takes.keep(hum(0.1), None, replace(INFO, first_bar=2, last_bar=4, logged_pass="a1"), AT)
    path = takes.folder / f"{kept.name}.json"
    odd = {"form": "yes", "weather": ["rain"], "riff": None, "tempo_bpm": "fast"}
    written = json.loads(path.read_text("utf-8")) | odd
    path.write_text(json.dumps(written), "utf-8")
    takes.mark(kept.name)
    (found,) = takes.all()
    assert json.loads(path.read_text("utf-8")) == written | {"marked": True}
    assert (found.info.form, found.info.tempo_bpm, found.info.logged_pass) == (False, None, "a1")
    assert {key: found.info.as_json()[key] for key in odd} == odd


def test_midi_takes_are_kept_to_ten_microseconds(takes: Takes) -> None:
    notes = tuple(MidiNote(Fraction(k * 12_345, 100_000), 40 + k, k % 6, 90) for k in range(20))
    kept = takes.keep(MidiTake(notes), None, INFO, AT)
    assert read_midi_take(kept.sound).notes == notes


def test_the_oldest_unmarked_take_goes_first(takes: Takes) -> None:
    kept = [takes.keep(hum(), None, INFO, AT + timedelta(minutes=k)) for k in range(4)]
    takes.mark(kept[0].name)
    takes.limit_bytes = 3 * kept[0].size + 100
    takes.keep(hum(), None, INFO, AT + timedelta(hours=1))
    names = [take.name for take in takes.all()]
    assert kept[0].name in names
    assert kept[1].name not in names
    assert kept[3].name in names


def test_takes_of_one_second_do_not_collide(takes: Takes) -> None:
    names = {takes.keep(hum(0.1), None, INFO, AT).name for _ in range(3)}
    assert len(names) == 3


def test_export_never_overwrites(takes: Takes, tmp_path: Path) -> None:
    kept = takes.keep(hum(), None, INFO, AT)
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
        Takes(tmp_path / "file" / "takes").keep(hum(), None, INFO, AT)


def test_a_full_disk_leaves_nothing_half() -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full here")
    with pytest.raises((OSError, RuntimeError)):
        from trainer.listening.takes import write_take

        write_take(hum(3.0), full)


def test_damaged_files_are_left_out(takes: Takes) -> None:
    kept = takes.keep(hum(), None, INFO, AT)
    (takes.folder / "20310504-130000-000.json").write_text("{")
    (takes.folder / "20310504-140000-000.json").write_text('{"verdict": {"outcome": "golden"}}')
    assert [take.name for take in takes.all()] == [kept.name]


ODD_ABOUTS = {
    "deep": "[" * 100_000 + "]" * 100_000,
    "infinite": '{"start_s": 1e999}',
    "not a number": '{"weather": [NaN]}',
    "long number": '{"tempo_bpm": %s}' % ("9" * 5000),
    "half a character": '{"riff": "\\ud800"}',
    "a list": "[1, 2]",
    "long": '{"riff": "%s"}' % ("x" * 5_000_000),
}


@pytest.mark.parametrize("about", ODD_ABOUTS.values(), ids=ODD_ABOUTS)
def test_odd_words_about_a_take_are_left_out_and_told_when_marked(takes: Takes, about: str) -> None:
    kept, odd = (takes.keep(hum(0.1), None, INFO, AT + timedelta(hours=k)) for k in range(2))
    (takes.folder / f"{odd.name}.json").write_text(about)
    assert [take.name for take in takes.all()] == [kept.name]
    with pytest.raises(ProblemsError, match="damaged"):
        takes.mark(odd.name)
    assert (takes.folder / f"{odd.name}.json").read_text() == about


def test_a_link_among_the_takes_counts_as_the_link_it_is(takes: Takes, tmp_path: Path) -> None:
    kept, linked = (takes.keep(hum(0.1), None, INFO, AT + timedelta(hours=k)) for k in range(2))
    large = tmp_path / "album.flac"
    with large.open("wb") as file:
        file.truncate(3_000_000_000)
    linked.sound.unlink()
    linked.sound.symlink_to(large)
    assert takes.make_room() == ()
    assert {take.name for take in takes.all()} == {kept.name, linked.name}


NOTE_OFF_END = b"\x00\x90\x28\x40\x60\x80\x28\x00\x00\xff\x2f\x00"


@pytest.mark.parametrize(
    ("events", "told"),
    [
        (b"\x00\xff\x59\x02\x40\x07" + NOTE_OFF_END, "damaged"),
        (b"\xff\xff\xff\x7f\x90\x28\x40" * 8 + NOTE_OFF_END, "lasts too long"),
        (b"\x00\x90\x28\x40" * 100_001 + NOTE_OFF_END, "too many notes"),
    ],
    ids=["no such key", "billions of ticks", "very many notes"],
)
def test_midi_files_that_hold_no_take_are_told(tmp_path: Path, events: bytes, told: str) -> None:
    path = tmp_path / "take.mid"
    track = b"MTrk" + len(events).to_bytes(4, "big") + events
    path.write_bytes(b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60" + track)
    with pytest.raises(ProblemsError, match=told):
        read_midi_take(path)
