import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.playback.tiny_bank import write_tiny_bank


@pytest.fixture(autouse=True)
def _own_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture(scope="session")
def tiny_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_tiny_bank(tmp_path_factory.mktemp("bank") / "tiny.sf2")


def let_jack_die(what: str, folder: Path) -> list[str]:
    """What `tests.playback.dying_jack` says, a line each."""
    if shutil.which("jackd") is None:
        pytest.skip("jackd not installed (Debian: jackd2)")
    command = [sys.executable, "-m", "tests.playback.dying_jack", what, str(folder)]
    root = Path(__file__).parents[2]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()
