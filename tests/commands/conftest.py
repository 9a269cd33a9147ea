"""Commands run inside folders of their own, away from the player's."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.notation.iron import IRON
from trainer.__main__ import main


class Done(NamedTuple):
    """What a call did."""

    code: int
    out: str
    err: str


Call = Callable[..., Done]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty home, and the folder that commands run in."""
    for name, folder in (
        ("XDG_CONFIG_HOME", "config"),
        ("XDG_DATA_HOME", "data"),
        ("XDG_STATE_HOME", "state"),
        ("XDG_CACHE_HOME", "cache"),
    ):
        monkeypatch.setenv(name, str(tmp_path / folder))
    work = tmp_path / "work"
    work.mkdir()
    (work / "iron.md").write_text(IRON)
    monkeypatch.chdir(work)
    return tmp_path


@pytest.fixture
def call(home: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    """Run a call of the program: call("check", "iron.md")."""

    def run(*words: str) -> Done:
        code = main(words)
        return Done(code, *capsys.readouterr())

    return run
