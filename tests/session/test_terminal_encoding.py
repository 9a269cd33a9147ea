"""The terminal's encoding is the locale's, also where Python would write UTF-8 whatever the terminal takes."""

import os
import subprocess
import sys

import pytest

SAY = "from trainer.session.own_machine import terminal_encoding; print(terminal_encoding())"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ({"LC_ALL": "C"}, "ANSI_X3.4-1968"),
        ({"LC_ALL": "POSIX"}, "ANSI_X3.4-1968"),
        ({"LC_ALL": "C.UTF-8"}, "utf-8"),
        ({"LC_ALL": "C", "PYTHONIOENCODING": "utf-8"}, "utf-8"),
        ({"LC_ALL": "C", "PYTHONUTF8": "1"}, "utf-8"),
        ({"LC_ALL": "C.UTF-8", "PYTHONIOENCODING": "ascii"}, "ascii"),
    ],
)
def test_the_encoding_is_the_locales_unless_another_is_asked_for(words: dict[str, str], told: str) -> None:
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG", "PYTHON"))}
    done = subprocess.run([sys.executable, "-c", SAY], env=plain | words, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == told
