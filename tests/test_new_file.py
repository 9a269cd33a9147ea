"""Writing a file whole or not at all: links, permissions, pipes, names and full disks."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.music.problem import ProblemsError
from trainer.new_file import new_file


def _write(path: Path, text: str, mode: int | None = None) -> None:
    with new_file(path, mode) as temporary:
        temporary.write_text(text)


def test_a_file_that_is_replaced_keeps_its_permissions(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    _write(path, "old", mode=0o600)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o640)
    _write(path, "new")
    assert (path.read_text(), stat.S_IMODE(path.stat().st_mode)) == ("new", 0o640)


def test_a_link_goes_on_pointing_where_it_did(tmp_path: Path) -> None:
    there, link = tmp_path / "disk" / "a.wav", tmp_path / "a.wav"
    there.parent.mkdir()
    there.write_text("old")
    link.symlink_to(there)
    _write(link, "new")
    assert link.is_symlink() and there.read_text() == "new"
    assert sorted(each.name for each in tmp_path.rglob("*")) == ["a.wav", "a.wav", "disk"]


def test_a_pipe_is_not_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "a.wav"
    os.mkfifo(pipe)
    with pytest.raises(ProblemsError, match="is a pipe or a device"):
        _write(pipe, "new")
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert list(tmp_path.iterdir()) == [pipe]


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("a" * 300 + ".wav", "file name too long. Choose another name"),
        ("circle.wav", "Choose another name"),
        ("nowhere/a.wav", "its folder does not exist"),
        ("", "there is a folder of that name"),
    ],
)
def test_a_name_that_cannot_be_is_told(tmp_path: Path, name: str, told: str) -> None:
    (tmp_path / "circle.wav").symlink_to(tmp_path / "circle.wav")
    with pytest.raises(ProblemsError, match=told):
        _write(tmp_path / name, "new")


def test_a_name_that_is_no_utf_8_can_be_written(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/a\xff.wav"))
    _write(path, "new")
    assert path.read_text() == "new"


FULL = """
import resource, sys
from pathlib import Path
import numpy as np
from trainer.music.problem import ProblemsError
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    {}
except ProblemsError as error:
    print(error.problems[0])
"""
RENDERED = """
    from trainer.playback.audio_file import AudioFile
    with AudioFile(Path(sys.argv[1]) / "a.wav", 44100) as file:
        file.write(np.ones((441_000, 2), np.float32))
        file.finish()
"""
TAKEN = """
    from datetime import datetime
    from trainer.listening.sound import Sound
    from trainer.listening.take_info import TakeInfo
    from trainer.listening.takes import Takes
    noise = np.random.default_rng(1).random(441_000, np.float32)
    Takes(Path(sys.argv[1])).keep(Sound(noise, 44100), None, TakeInfo(), datetime(2031, 5, 1))
"""


@pytest.mark.parametrize("writes", [RENDERED, TAKEN], ids=["rendering", "a take"])
def test_a_disk_that_takes_no_more_is_told_in_the_systems_words(tmp_path: Path, writes: str) -> None:
    """A limit on a file's size stands for the full disk: libsndfile calls both a system error."""
    words = [sys.executable, "-c", FULL.format(writes.strip()), str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert "file too large" in done.stdout
    assert list(tmp_path.iterdir()) == []
