"""A bank is checked before any synth sees it: what is whole is listed, what is damaged is refused in a sentence."""

import os
import random
import struct
import subprocess
import sys
import textwrap
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.sounds.ordinary_user import ordinary_user
from trainer.music.problem import ProblemsError
from trainer.sounds.find_banks import built_in_bank, find_banks
from trainer.sounds.patch import Preset
from trainer.sounds.sound_bank import BankPreset, check_bank

WHOLE = built_in_bank().read_bytes()
TABLES = WHOLE.rindex(b"LIST")
"""Where the tables begin: what stands before is sound."""

CHILD = textwrap.dedent(
    """
    import ctypes, sys
    import fluidsynth
    for level in range(5):
        fluidsynth._fl.fluid_set_log_function(level, None, None)
    for line in sys.stdin:
        synth = fluidsynth.Synth(samplerate=8000)
        number = synth.sfload(line.strip())
        assert number >= 0, f"refused by the synth: {line}"
        if number >= 0:
            for bank, program in ((0, 27), (0, 28), (0, 30), (0, 33), (128, 0)):
                if synth.program_select(9 if bank else 0, number, bank, program) == 0:
                    for key in (23, 40, 42, 76, 100):
                        synth.noteon(9 if bank else 0, key, 100)
            synth.get_samples(800)
        synth.delete()
        print("played", flush=True)
    """
)


def what(path: Path) -> str:
    with pytest.raises(ProblemsError) as caught:
        check_bank(path)
    (problem,) = caught.value.problems
    assert problem.hint
    assert str(problem).isprintable()
    return problem.what


def in_child(files: list[Path]) -> None:
    """FluidSynth loads and plays each file in a process of its own, which must live to the last."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD],
        check=False,
        input="".join(f"{path}\n" for path in files),
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert done.stdout.count("played") == len(files)


def test_a_whole_bank_lists_its_presets() -> None:
    bank = check_bank(built_in_bank())
    assert bank.name == "Twinspur"
    assert bank.version == (2, 1)
    assert bank.size == len(WHOLE)
    assert BankPreset(0, 30, "Distortion guitar") in bank.presets
    assert list(bank.presets) == sorted(bank.presets)


def test_every_installed_bank_can_be_listed() -> None:
    found = find_banks()
    if not found:
        pytest.skip("no General MIDI bank is installed here")
    for path in found:
        programs = {each.program for each in check_bank(path).presets if each.bank == 0}
        assert {27, 28, 29, 30, 31, 33, 34} <= programs


def test_a_bank_without_a_variation_gets_the_plain_program() -> None:
    bank = check_bank(built_in_bank())
    assert bank.fit(Preset(1, 28)) == Preset(1, 28)
    assert bank.fit(Preset(7, 28, velocity=-3)) == Preset(0, 28, velocity=-3)


def test_what_is_no_bank_is_told(tmp_path: Path) -> None:
    (tmp_path / "text.sf2").write_text("not a bank at all")
    (tmp_path / "empty.sf2").write_bytes(b"")
    os.mkfifo(tmp_path / "pipe.sf2")
    assert "folder" in what(tmp_path)
    assert "no such" in what(tmp_path / "none.sf2")
    assert "not a SoundFont" in what(tmp_path / "text.sf2")
    assert "not a SoundFont" in what(tmp_path / "empty.sf2")
    assert "pipe" in what(tmp_path / "pipe.sf2")
    assert "cannot be read" in what(tmp_path / "nul\0.sf2")
    assert "cannot be read" in what(tmp_path / ("long" * 100))


def test_a_bank_without_permission_is_told() -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "closed.sf2"
        path.write_bytes(WHOLE)
        path.chmod(0)
        path.parent.chmod(0o755)
        with ordinary_user():
            assert "permission denied" in what(path)


def test_a_bank_too_large_is_told_without_reading_it(tmp_path: Path) -> None:
    path = tmp_path / "large.sf2"
    with path.open("wb") as file:
        file.write(WHOLE)
        file.truncate(2 * 1024**3 + 1)
    assert "too large" in what(path)


def test_an_escape_sequence_in_a_name_never_reaches_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "escape\x1b[2J.sf2"
    content = WHOLE.replace(b"Rock kit\0\0", b"\x1b]0;x\x07\x1b[2J").replace(b"Twinspur", b"Twin\x1b[2J")
    path.write_bytes(content)
    bank = check_bank(path)
    assert all(each.name.isprintable() for each in bank.presets)
    assert bank.name.isprintable()
    path.write_bytes(b"x")
    assert what(path)


def test_a_bank_cut_short_anywhere_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "cut.sf2"
    places = random.Random(1).sample(range(len(WHOLE)), 150)
    for at in [*range(0, 300, 7), *places, *range(TABLES, len(WHOLE), 997), len(WHOLE) - 1]:
        path.write_bytes(WHOLE[:at])
        assert what(path)


SIZES = (0, 1, 3, 0x7FFFFFFF, 0xFFFFFFFF, 0xFFFFFFF8)


@pytest.mark.parametrize(
    "name", ["RIFF", "LIST", "ifil", "INAM", "smpl", "phdr", "pbag", "pgen", "inst", "ibag", "imod", "igen", "shdr"]
)
def test_a_part_that_lies_about_its_size_is_refused_or_harmless(tmp_path: Path, name: str) -> None:
    files = []
    for size in SIZES:
        content = bytearray(WHOLE)
        struct.pack_into("<I", content, WHOLE.index(name.encode()) + 4, size)
        path = tmp_path / f"{size}.sf2"
        path.write_bytes(content)
        try:
            check_bank(path)
        except ProblemsError:
            continue
        files.append(path)
    in_child(files)


def test_indices_that_point_nowhere_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "bad.sf2"
    for table, record, offset in (("phdr", 38, 24), ("pbag", 4, 0), ("inst", 22, 20), ("ibag", 4, 0), ("ibag", 4, 2)):
        content = bytearray(WHOLE)
        struct.pack_into("<H", content, WHOLE.rindex(table.encode()) + 8 + record + offset, 0xFFFF)
        path.write_bytes(content)
        assert "points to nothing" in what(path)
    for table, operator in (("pgen", 41), ("igen", 53)):
        content = bytearray(WHOLE)
        start = WHOLE.rindex(table.encode()) + 8
        at = WHOLE.index(struct.pack("<H", operator), start)
        struct.pack_into("<H", content, at + 2, 0xFFF0)
        path.write_bytes(content)
        assert "points to nothing" in what(path)


def test_a_sample_outside_the_sound_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bad.sf2"
    start = WHOLE.rindex(b"shdr") + 8
    for offset, value, told in (
        (24, 0x7FFFFFFF, "beyond"),
        (20, 0x7FFFFFFF, "beyond"),
        (36, 0, "rate"),
        (36, 2**31, "rate"),
    ):
        content = bytearray(WHOLE)
        struct.pack_into("<I", content, start + offset, value)
        path.write_bytes(content)
        assert told in what(path)


def test_no_changed_byte_that_passes_the_check_can_end_the_synth(tmp_path: Path) -> None:
    """Three hundred banks, each with one to eight bytes of its structure changed; those let through are played."""
    source = random.Random(20)
    files = []
    refused = 0
    for number in range(300):
        content = bytearray(WHOLE)
        for _ in range(source.choice((1, 1, 2, 8))):
            tables = source.random() < 2 / 3
            at = source.randrange(TABLES, len(WHOLE)) if tables else source.randrange(300)
            content[at] = source.choice((0, 1, 0x7F, 0x80, 0xFF, source.randrange(256)))
        path = tmp_path / f"{number}.sf2"
        path.write_bytes(content)
        try:
            check_bank(path)
        except ProblemsError:
            refused += 1
            path.unlink()
            continue
        files.append(path)
        if len(files) == 60:
            in_child(files)
            for each in files:
                each.unlink()
            files = []
    in_child(files)
    assert refused > 30


def test_banks_are_found_once_however_many_links_lead_there(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    (one / "real.SF3").write_bytes(b"")
    (one / "notes.txt").write_bytes(b"")
    (one / "folder.sf2").mkdir()
    (two / "default.sf2").symlink_to(one / "real.SF3")
    (two / "broken.sf2").symlink_to(one / "gone.sf2")
    assert find_banks([one, two, tmp_path / "none"]) == (one / "real.SF3",)
    assert find_banks([two, one]) == (one / "real.SF3",)
