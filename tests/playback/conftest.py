import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.playback.tiny_bank import write_tiny_bank
from tests.sound_servers import Pulse, ServerMissingError, jack_server, pulse_server


@pytest.fixture(autouse=True)
def _own_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture(scope="session")
def tiny_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_tiny_bank(tmp_path_factory.mktemp("bank") / "tiny.sf2")


@pytest.fixture(scope="session")
def pulse(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pulse]:
    """A PulseAudio server with a null sink, shared by the tests that leave it alive."""
    try:
        with pulse_server(tmp_path_factory.mktemp("pulse")) as server:
            yield server
    except ServerMissingError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def own_pulse(tmp_path: Path) -> Iterator[Pulse]:
    """A PulseAudio server to kill."""
    try:
        with pulse_server(tmp_path) as server:
            yield server
    except ServerMissingError as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def jack(tmp_path_factory: pytest.TempPathFactory) -> Iterator["subprocess.Popen[bytes]"]:
    """A JACK server with the dummy driver, shared by the tests that leave it alive."""
    try:
        with jack_server(tmp_path_factory.mktemp("jack")) as server:
            yield server
    except ServerMissingError as missing:
        pytest.skip(str(missing))


def let_jack_die(what: str, folder: Path) -> list[str]:
    """What `tests.playback.dying_jack` says, a line each."""
    if shutil.which("jackd") is None:
        pytest.skip("jackd not installed (Debian: jackd2)")
    command = [sys.executable, "-m", "tests.playback.dying_jack", what, str(folder)]
    root = Path(__file__).parents[2]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()
