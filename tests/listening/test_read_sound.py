"""Audio files: every usual form is read, and what cannot be used is told in a sentence."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from trainer.listening.midi_take import read_midi_take
from trainer.listening.read_sound import read_sound
from trainer.music.problem import ProblemsError

RATE = 44_100
TONE = (0.3 * np.sin(np.arange(RATE) / 12)).astype(np.float32)
OTHER = (0.3 * np.sin(np.arange(RATE) / 17)).astype(np.float32)


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "aiff"])
def test_usual_formats_are_read(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, TONE, RATE)
    (sound,) = read_sound(path)
    assert sound.rate == RATE
    assert np.corrcoef(sound.samples[:RATE], TONE[: len(sound.samples)])[0, 1] > 0.999


def test_two_guitarists_are_two_takes_and_one_on_both_sides_is_one(tmp_path: Path) -> None:
    for name, right, count in (("duo", OTHER, 2), ("mono", TONE, 1), ("left", np.zeros_like(TONE), 1)):
        path = tmp_path / f"{name}.wav"
        soundfile.write(path, np.stack([TONE, right], axis=1), RATE)
        assert len(read_sound(path)) == count, name


def write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def test_what_cannot_be_used_is_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "slow.wav", TONE[:8000], 8_000)
    soundfile.write(tmp_path / "many.wav", np.zeros((100, 3), np.float32), RATE)
    soundfile.write(tmp_path / "empty.wav", np.zeros(0, np.float32), RATE)
    soundfile.write(tmp_path / "good.flac", TONE, RATE)
    whole = (tmp_path / "good.flac").read_bytes()
    cases = [
        (tmp_path / "slow.wav", "8000 Hz"),
        (tmp_path / "many.wav", "3 channels"),
        (tmp_path / "empty.wav", "no sound"),
        (tmp_path / "missing.wav", "no such file"),
        (write(tmp_path / "cut.flac", whole[:40]), "cut short"),
        (write(tmp_path / "hostile.wav", b"RIFF\xff\xff\xff\x7fWAVEfmt \xff\xff\xff\xff" + b"\x00" * 64), "cut short"),
        (write(tmp_path / "text.wav", b"hello"), "cut short"),
    ]
    for path, words in cases:
        with pytest.raises(ProblemsError, match=words):
            read_sound(path)


def test_three_hours_are_refused_before_they_are_read(tmp_path: Path) -> None:
    path = tmp_path / "long.flac"
    with soundfile.SoundFile(path, "w", 16_000, 1, format="FLAC", subtype="PCM_16") as file:
        silence = np.zeros(16_000 * 600, np.int16)
        for _ in range(18):
            file.write(silence)
    with pytest.raises(ProblemsError, match="3:00:00"):
        read_sound(path)


@pytest.mark.parametrize(
    "content", [b"", b"MThd", b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk\xff\xff\xff\xff\x00"]
)
def test_damaged_midi_files_are_told(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(ProblemsError, match=r"damaged|cannot be read"):
        read_midi_take(write(tmp_path / "take.mid", content))
