"""`twinspur export`, as a player calls it."""

from pathlib import Path

import pytest

from trainer.commands.line import CALL_WRONG, DONE, main


def test_an_exercise_is_written_as_a_score(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "road.musicxml"
    assert main(["export", "iron-causeway", "--out", str(path)]) == DONE
    assert "<work-title>Iron Causeway</work-title>" in path.read_text("utf-8")
    assert "each riff once" in capsys.readouterr().out


def test_a_score_that_is_there_is_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "road.mxl"
    path.write_text("mine")
    assert main(["export", "iron-causeway", "--out", str(path)]) == CALL_WRONG
    assert path.read_text() == "mine"
    assert "--replace" in capsys.readouterr().err


def test_an_unknown_ending_names_those_that_can_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "iron-causeway", "--out", str(tmp_path / "road.pdf")]) == CALL_WRONG
    assert ".musicxml" in capsys.readouterr().err


def test_an_exercise_is_written_as_a_midi_file(tmp_path: Path) -> None:
    path = tmp_path / "road.mid"
    assert main(["export", "iron-causeway", "--out", str(path)]) == DONE
    assert path.read_bytes()[:4] == b"MThd"
