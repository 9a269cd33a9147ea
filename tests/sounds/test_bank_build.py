"""The bank in the repository is the one its script builds, within its size."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.sound_bank import check_bank

SCRIPT = Path(__file__).parents[2] / "patches" / "build_bank.py"
LIMIT = 8 * 1024 * 1024


PLAIN = {
    "NPY_DISABLE_CPU_FEATURES": "AVX512F AVX512CD AVX512_SKX AVX2 FMA3",
    "GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-FMA,-AVX512F",
}
"""What makes numpy and the C library compute as on an older processor; other machines ignore it."""


@pytest.mark.parametrize("machine", [{}, PLAIN], ids=["this machine", "an older processor"])
def test_building_anew_gives_the_same_bytes(tmp_path: Path, machine: dict[str, str]) -> None:
    again = tmp_path / "again.sf2"
    words = [sys.executable, "-W", "ignore", str(SCRIPT), str(again)]
    subprocess.run(words, check=True, capture_output=True, timeout=300, env=os.environ | machine)
    assert again.read_bytes() == built_in_bank().read_bytes()


def test_the_bank_is_at_most_eight_mebibytes() -> None:
    assert built_in_bank().stat().st_size <= LIMIT


def test_the_bank_has_its_sounds_where_general_midi_has_them() -> None:
    places = {(each.bank, each.program) for each in check_bank(built_in_bank()).presets}
    assert places >= {(0, 27), (0, 28), (0, 29), (0, 30), (0, 31), (0, 33), (0, 34), (128, 0)}
