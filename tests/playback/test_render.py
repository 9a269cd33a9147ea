"""Rendering with the real synth: what comes out of an audio file."""

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.playback.riffs import band, exercise, gallop_bar, guitar, riff
from trainer.music.note import Moment, Note
from trainer.music.part import PartSettings
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.places import bundled
from trainer.playback import audio_file
from trainer.playback.audio_file import AudioFile
from trainer.playback.mix import CLICK, Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, render_audio, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches

RIG = load_patches()
BANK = bundled("patches") / "twinspur.sf2"
DRY = SynthOptions(reverb=False, chorus=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder."""
    made = tmp_path / "music"
    made.mkdir()
    return made


def compiled(music: Riff, *settings: PartSettings) -> Timeline:
    return Timeline.of(Piece.of(exercise(music, settings=settings), [music]), RIG)


def rendered(line: Timeline, plan: Plan) -> "np.ndarray[tuple[int, int], np.dtype[np.float32]]":
    synth = OfflineSynth(BANK, DRY, click_keys(line))
    sound = np.concatenate(list(sound_of(line, plan, synth)))
    synth.close()
    return sound


def pitch(sound: "np.ndarray[tuple[int], np.dtype[np.float32]]", expected: float) -> float:
    """Cents away from an expected frequency, by the phase of the fundamental between two windows."""
    hop, size = 2400, 9600
    window = np.hanning(size)
    turn = np.exp(-2j * np.pi * expected * np.arange(size + hop) / 48000)
    first, second = (np.sum(sound[at : at + size] * turn[at : at + size] * window) for at in (0, hop))
    frequency = expected + np.angle(second / first) / (2 * np.pi * hop / 48000)
    return float(1200 * np.log2(frequency / expected))


@pytest.mark.parametrize("semitones", [1, 2, 3, 5])
def test_a_bend_lands_within_two_cents_of_the_fret_that_is_written(semitones: int) -> None:
    settings = PartSettings("guitar 1", patch="clean left")
    fret = 5
    bent = riff(guitar((Moment(Fraction(0), (Note(3, fret, bend=fret + semitones),)),)), target=60)
    plain = riff(guitar((Moment(Fraction(0), (Note(3, fret + semitones),)),)), target=60)
    expected = 440 * 2 ** ((55 + fret + semitones - 69) / 12)
    found = [
        pitch(rendered(compiled(music, settings), Plan(Loop(0, 0)))[24000:48000].sum(axis=1), expected)
        for music in (bent, plain)
    ]
    assert abs(found[0]) < 2
    assert abs(found[0] - found[1]) < 2


def test_every_click_is_added_at_its_exact_frame() -> None:
    line = compiled(riff(guitar(gallop_bar(), gallop_bar()), target=173))
    mix = Mix().only([CLICK], line.parts)
    sound = rendered(line, Plan(Loop(0, 1), click=RIG.click_pattern("beats"), mix=mix)).sum(axis=1)
    beat = Fraction(60 * 48000, 173)
    frames = [int(n * beat + Fraction(1, 2)) for n in range(8)]
    click = sound[frames[1] : frames[1] + 4000]
    assert abs(click[:200]).max() > 0.01
    for frame in (*frames[1:4], *frames[5:]):
        assert np.array_equal(sound[frame : frame + 4000], click)
    assert not sound[frames[1] + 15_000 : frames[2]].any()
    keys, kit = click_keys(line), RIG.for_part(CLICK).kit
    synth = DRY.make(BANK)
    synth.program(0, 128, 0)
    synth.control(0, 7, 100)
    synth.control(0, 10, 64)
    assert kit is not None
    synth.note_on(0, keys.plain, kit.key("click")[1])
    alone = synth.render(4000).sum(axis=1)
    synth.close()
    assert np.allclose(click, alone, atol=3e-5)  # its end is left away where it cannot be heard


def test_a_part_alone_and_its_minus_one_make_up_the_whole() -> None:
    line = compiled(band(2, 168))
    whole = rendered(line, Plan(Loop(0, 1)))
    parts = [
        rendered(line, Plan(Loop(0, 1), mix=mix)) for mix in (Mix().only(["bass"], line.parts), Mix().without("bass"))
    ]
    length = min(len(whole), *map(len, parts))
    # FluidSynth starts a voice a little differently where its slot has been used before: not to the bit, but near.
    assert np.std(whole[:length] - parts[0][:length] - parts[1][:length]) < 0.02 * np.std(whole)
    assert abs(parts[0]).max() > 0.01


def test_a_level_in_decibels_is_that_much_louder() -> None:
    line = compiled(band(1, 168))
    alone = Mix().only(["bass"], line.parts)
    loud, soft = (rendered(line, Plan(Loop(0, 0), mix=mix)) for mix in (alone, alone.with_level("bass", -12)))
    length = min(len(loud), len(soft))
    assert 20 * np.log10(np.std(loud[:length]) / np.std(soft[:length])) == pytest.approx(12, abs=0.5)


@pytest.mark.parametrize("ending", [".wav", ".flac", ".ogg", ".mp3"])
def test_a_file_of_each_kind_holds_the_music(ending: str, folder: Path) -> None:
    line = compiled(band(2, 168))
    done = render_audio(line, Plan(Loop(0, 1), count_in=1), folder / f"x{ending}", BANK)
    sound, rate = soundfile.read(folder / f"x{ending}")
    assert rate == 48000
    assert len(sound) / rate == pytest.approx(done.seconds, abs=0.1)
    assert done.seconds >= 3 * 4 * 60 / 168
    assert abs(sound).max() == pytest.approx(done.file.peak, rel=0.15)
    assert [path.name for path in folder.iterdir()] == [f"x{ending}"]


@pytest.mark.parametrize("ending", [".wav", ".flac", ".ogg"])
def test_what_would_clip_is_turned_down_as_a_whole_and_told(ending: str, folder: Path) -> None:
    line = compiled(band(1, 168))
    loud = SynthOptions(gain=6.0)
    done = render_audio(line, Plan(Loop(0, 0)), folder / f"x{ending}", BANK, loud)
    assert done.file.peak > 1
    assert done.file.turned_down_db > 0
    sound, _ = soundfile.read(folder / f"x{ending}")
    least = 0.75 if ending == ".ogg" else 0.85  # a lossy file rounds off the pick and the beater
    assert least < abs(sound).max() < 1


def test_sound_too_long_for_memory_comes_out_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    line = compiled(band(1, 168))
    render_audio(line, Plan(Loop(0, 0)), folder / "memory.wav", BANK, DRY)
    monkeypatch.setattr(audio_file, "IN_MEMORY", 300_000)
    render_audio(line, Plan(Loop(0, 0)), folder / "disk.wav", BANK, DRY)
    assert (folder / "memory.wav").read_bytes() == (folder / "disk.wav").read_bytes()


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("x.xyz", r"cannot end in .*\.wav, \.flac"),
        ("x", "no ending"),
        ("no/x.wav", "folder does not exist"),
        ("d.wav", "a folder of that name"),
    ],
)
def test_a_place_that_cannot_be_written_is_a_plain_problem(name: str, message: str, folder: Path) -> None:
    (folder / "d.wav").mkdir()
    with pytest.raises(ProblemsError, match=message):
        render_audio(compiled(band(1)), Plan(Loop(0, 0)), folder / name, BANK)
    assert [path.name for path in folder.iterdir()] == ["d.wav"]


_FULL = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from trainer.music.problem import ProblemsError
from trainer.playback import audio_file
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
audio_file.IN_MEMORY = int(sys.argv[2])
try:
    with audio_file.AudioFile(Path(sys.argv[1]), 48000) as file:
        for _ in range(20):
            file.write(np.random.default_rng(1).random((24000, 2), dtype=np.float32) / 2)
        file.finish()
except ProblemsError as error:
    print(error)
"""


@pytest.mark.parametrize("in_memory", [10**9, 1000], ids=["while it is written", "while it is collected"])
@pytest.mark.parametrize("ending", [".wav", ".flac", ".ogg", ".mp3"])
def test_a_full_disk_leaves_the_old_file_and_nothing_else(ending: str, in_memory: int, folder: Path) -> None:
    path = folder / f"x{ending}"
    path.write_bytes(b"old")
    done = subprocess.run(
        [sys.executable, "-c", _FULL, path, str(in_memory)], check=True, capture_output=True, text=True
    )
    assert str(path) in done.stdout
    assert "Make room" in done.stdout
    assert done.stderr == ""
    assert path.read_bytes() == b"old"
    assert [each.name for each in folder.iterdir()] == [path.name]


def test_an_unfinished_file_leaves_nothing_behind(folder: Path) -> None:
    with pytest.raises(RuntimeError, match="in the middle"), AudioFile(folder / "x.wav", 48000) as file:
        file.write(np.zeros((100, 2), np.float32))
        raise RuntimeError("in the middle")
    assert not list(folder.iterdir())


def test_a_folder_without_permission_is_a_plain_problem(folder: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("the system's administrator may write everywhere")
    folder.chmod(0o500)
    with pytest.raises(ProblemsError, match="may not be written"):
        render_audio(compiled(band(1)), Plan(Loop(0, 0)), folder / "x.wav", BANK)
