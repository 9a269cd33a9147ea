"""The bank in the repository is the one its script builds, within its size."""

import subprocess
import sys
from pathlib import Path

from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.sound_bank import check_bank

SCRIPT = Path(__file__).parents[2] / "patches" / "build_bank.py"
LIMIT = 4 * 1024 * 1024


def test_building_anew_gives_the_same_bytes(tmp_path: Path) -> None:
    again = tmp_path / "again.sf2"
    subprocess.run([sys.executable, str(SCRIPT), str(again)], check=True, capture_output=True, timeout=300)
    assert again.read_bytes() == built_in_bank().read_bytes()


def test_the_bank_is_at_most_four_mebibytes() -> None:
    assert built_in_bank().stat().st_size <= LIMIT


def test_the_bank_has_its_sounds_where_general_midi_has_them() -> None:
    places = {(each.bank, each.program) for each in check_bank(built_in_bank()).presets}
    assert places >= {(0, 27), (0, 28), (0, 29), (0, 30), (0, 31), (0, 33), (0, 34), (128, 0)}
