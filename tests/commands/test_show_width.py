"""show fits the terminal: systems break at bar lines, prose at words."""

from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.exercises.bundled import REFERENCE


@pytest.mark.parametrize("name", ["the-long-watch", "salt-on-the-wind", "iron-causeway"])
def test_show_fits_eighty_columns(call: Call, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    done = call("show", str(Path(REFERENCE).parent / f"{name}.md"))
    assert done.code == 0
    wide = [line for line in done.out.split("\n") if len(line) > 80]
    assert all(line.count("|") == 2 for line in wide), "only a single bar may be wider"
    assert len(wide) < 20


def test_a_wide_terminal_gets_more_bars_in_a_system(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    path = str(Path(REFERENCE).parent / "iron-causeway.md")
    lengths = []
    for columns in ("60", "80", "200"):
        monkeypatch.setenv("COLUMNS", columns)
        lengths.append(len(call("show", path).out.split("\n")))
    assert lengths[0] > lengths[1] > lengths[2]
