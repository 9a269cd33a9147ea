"""Real sound servers for every room's tests: started once, skipped with their program's name where it is missing."""

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.sound_servers import Pulse, ServerMissingError, jack_server, pulse_server


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
