"""The watch sees a machine that stands still, and nothing where it does not."""

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.machine_watch import MachineWatch


@pytest.fixture
def watch(tmp_path):
    made = MachineWatch(tmp_path / "stumbles", late_s=0.2)
    yield made
    made.close()


def test_a_process_that_was_stopped_woke_late_by_as_much(watch):
    begun = time.monotonic()
    for _ in range(200):
        os.kill(watch.process.pid, signal.SIGSTOP)
        time.sleep(0.4)
        os.kill(watch.process.pid, signal.SIGCONT)
        time.sleep(0.05)
        if watch.longest(begun) > 0:
            break
    assert watch.longest(begun) >= 0.2


def test_what_was_late_before_the_test_does_not_count(watch):
    assert watch.longest(time.monotonic() + 1000) == 0.0


def test_a_flaky_test_is_asked_again_only_where_the_machine_stumbled(outcome_of):
    again, once = outcome_of(late=0.5), outcome_of(late=0.0)
    assert ("2 rerun" in again, "rerun" in once) == (True, False)


@pytest.fixture
def outcome_of(tmp_path):
    """Run a test that always fails in a process of its own, on a machine that was late by `late` seconds."""

    def outcome(late: float) -> str:
        (tmp_path / "conftest.py").write_text(
            "import pytest\nfrom tests.conftest import asked_again\n"
            f"def pytest_itemcollected(item):\n    item.add_marker(asked_again(lambda: {late}))\n"
        )
        (tmp_path / "test_it.py").write_text("def test_it():\n    assert False\n")
        (tmp_path / "pytest.ini").write_text("[pytest]\n")
        command = [sys.executable, "-m", "pytest", "--disable-plugin-autoload", "-p", "pytest_rerunfailures", "-q"]
        done = subprocess.run([*command, str(tmp_path)], capture_output=True, text=True, check=False)
        assert done.returncode == 1, done.stdout + done.stderr
        return done.stdout

    return outcome
