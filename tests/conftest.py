"""For every room's tests: real sound servers, started once, skipped with their program's name where it is missing; and
the rule that tests against the clock run alone.
"""

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.machine_watch import MachineWatch
from tests.one_at_a_time import room
from tests.open_logs import close_all
from tests.sound_servers import Pulse, ServerMissingError, jack_server, pulse_server

AGAINST_THE_CLOCK = {"pulse", "own_pulse", "jack"}
"""Fixtures whose tests run alone, without being marked so."""

STUMBLE_S = 0.02
"""Where the machine stood still for more seconds, it may have failed a test against the clock, and not the trainer."""

_WATCH = pytest.StashKey[MachineWatch]()
_BEGUN = pytest.StashKey[float]()


def pytest_configure() -> None:
    """Let Ctrl-C reach the programs that tests start, where whoever started the tests ignores it (a job runner)."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_itemcollected(item: pytest.Item) -> None:
    """Mark what needs a sound server `alone`, before `-m` chooses; what is alone may be asked again."""
    if AGAINST_THE_CLOCK & set(getattr(item, "fixturenames", ())):
        item.add_marker(pytest.mark.alone)
    if item.get_closest_marker("alone") is not None:
        item.add_marker(asked_again(lambda: _late_s(item)))


def asked_again(late_s: Callable[[], float]) -> pytest.MarkDecorator:
    """The mark of a test against the clock: where it fails and the machine itself stood still meanwhile, it runs again.

    Args:
        late_s: by how many seconds the machine was late at most while the test ran.
    """
    return pytest.mark.flaky(reruns=2, condition=lambda: late_s() > STUMBLE_S)


def _late_s(item: pytest.Item) -> float:
    watch = item.session.config.stash.get(_WATCH, None)
    return 0.0 if watch is None else watch.longest(item.stash.get(_BEGUN, 0.0))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put static checks first and tests by themselves last.

    So nobody waits for the room while others could work: the long static checks run beside everything else, and when
    the first test wants to be alone, all others are over.
    """
    items.sort(key=_phase)


def _phase(item: pytest.Item) -> int:
    if item.get_closest_marker("alone") is not None:
        return 2
    return 0 if item.path.name == "test_house.py" else 1


@pytest.fixture(autouse=True)
def _room(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The room with all others, or by oneself where the test is marked `alone`."""
    folder = tmp_path_factory.getbasetemp()
    shared = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    alone = request.node.get_closest_marker("alone") is not None
    with room(shared, alone):
        if alone:
            request.getfixturevalue("_machine_watch")
            request.node.stash[_BEGUN] = time.monotonic()
        yield


@pytest.fixture(scope="session")
def _machine_watch(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The process that tells when the machine stood still, from the first test on that runs by itself."""
    watch = request.config.stash[_WATCH] = MachineWatch(tmp_path_factory.mktemp("watch") / "stumbles")
    yield
    watch.close()


@pytest.fixture(autouse=True)
def _logs_closed() -> Iterator[None]:
    """Close what `open_logs.closed_later` was given: a connection left to the collector is a warning, and an error."""
    yield
    close_all()


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
