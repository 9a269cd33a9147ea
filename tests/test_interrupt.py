"""Programs that tests start hear Ctrl-C, also where the tests themselves were started with that signal ignored."""

import signal
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_a_program_that_a_test_starts_hears_ctrl_c() -> None:
    child = subprocess.Popen([sys.executable, "-c", "print('up', flush=True); input()"], stdin=-1, stdout=-1, stderr=-1)
    try:
        assert child.stdout is not None
        assert child.stdout.readline() == b"up\n"
        child.send_signal(signal.SIGINT)
        assert b"KeyboardInterrupt" in child.communicate(timeout=60)[1]
    finally:
        child.kill()


def test_the_same_where_a_job_runner_ignores_ctrl_c() -> None:
    test = f"{__file__}::{test_a_program_that_a_test_starts_hears_ctrl_c.__name__}"
    words = ["sh", "-c", 'trap "" INT; exec "$0" -m pytest -q -p no:cacheprovider "$1"', sys.executable, test]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
