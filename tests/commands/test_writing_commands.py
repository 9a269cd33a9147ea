"""new, read-tab and check --watch: how a player comes from nothing, or from plain tab, to a file that checks."""

import io
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.notation.iron import IRON
from tests.notation.test_plain_tab import NAMES_AND_A_DASH
from trainer.notation.blank import FIGURES
from trainer.notation.read import read
from trainer.notation.tidy import tidy


def test_read_tab_prints_an_exercise_and_lists_what_it_guessed(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "mail.txt"
    path.write_text(NAMES_AND_A_DASH)
    done = call("read-tab", str(path), "--title", "Cold Harbour", "--tempo", "180")
    assert done.code == 0
    exercise = read(done.out)
    assert (exercise.title, exercise.id, exercise.tempo.target) == ("Cold Harbour", "cold-harbour", 180)
    assert "count | 1 & a 2 & a 3 & 4 & |" in done.out
    assert f"{path}: line 3: no meter is written: read as 4/4." in done.err


def test_read_tab_reads_standard_input_and_writes_a_file(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "riff.md"
    for code, words in ((0, []), (2, []), (0, ["--replace"])):
        monkeypatch.setattr(sys, "stdin", io.StringIO(NAMES_AND_A_DASH))
        assert call("read-tab", "-", "--meter", "4/4", "--out", str(out), *words).code == code
    assert call("check", str(out)).code == 0
    assert tidy(out.read_text()) == out.read_text()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--meter", "4/3"], "is not a meter"),
        (["--tempo", "9999"], "is not a tempo"),
        (["--tempo", "²"], "is not a tempo"),
        (["--tuning", "H2"], "is not a tuning"),
        (["--tuning", "E2 A2"], "a tuning of 2 strings, the tab has 6"),
        (["--title", " "], "--title needs"),
    ],
)
def test_a_wrong_option_of_read_tab_is_a_sentence(call: Call, tmp_path: Path, words: list[str], message: str) -> None:
    path = tmp_path / "mail.txt"
    path.write_text(NAMES_AND_A_DASH)
    done = call("read-tab", str(path), *words)
    assert done.code in {1, 2} and message in done.err


@pytest.mark.parametrize("figure", sorted(FIGURES))
@pytest.mark.parametrize("meter", ["4/4", "3/4", "7/8", "12/8", "2/2", "5/4"])
def test_a_new_exercise_checks_is_tidy_and_plays_its_figure(
    call: Call, tmp_path: Path, figure: str, meter: str
) -> None:
    path = tmp_path / "grey-mole.md"
    parts = "guitar 1, guitar 2, bass, drums"
    options = ["--meter", meter, "--figure", figure, "--parts", parts, "--bars", "3", "--out", str(path)]
    done = call("new", "Grey Mole", *options)
    if done.code:
        assert "cannot be counted in" in done.err and not path.exists()
        assert meter not in {"4/4", "3/4", "5/4"}
        return
    exercise = read(path.read_text(), str(path))
    assert tidy(path.read_text()) == path.read_text()
    assert exercise.part_names == ("guitar 1", "guitar 2", "bass", "drums")
    assert all(len(line) <= 80 for line in path.read_text().split("\n")) or figure == "sixteenths"
    assert exercise.riffs[0].tabs[0].bars[0]
    assert call("check", str(path)).code == 0


def test_a_new_exercise_goes_into_the_players_folder_and_replaces_nothing(call: Call) -> None:
    done = call("new", "Grey Mole", "--figure", "gallop", "--tempo", "170")
    assert done.code == 0
    again = call("new", "Grey Mole")
    assert again.code == 2 and "exists" in again.err
    assert "grey-mole" in call("list").out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["   "], "at least one letter"),
        (["A", "--bars", "65"], "1 to 64"),
        (["A", "--key", "Em"], 'Did you mean "E minor"?'),
        (["A", "--parts", "guitar 1,,"], "names with commas"),
        (["A", "--meter", "4/5"], "is not a meter"),
        (["A", "--out", "a.txt"], "ends in .md"),
    ],
)
def test_a_wrong_option_of_new_is_a_sentence(call: Call, words: list[str], message: str) -> None:
    done = call("new", *words)
    assert done.code == 2 and message in done.err


def test_check_watch_tells_what_is_wrong_at_each_save(tmp_path: Path) -> None:
    path = tmp_path / "iron.md"
    path.write_text(IRON)
    with subprocess.Popen(
        [sys.executable, "-m", "trainer", "check", "--watch", str(path)], stdout=subprocess.PIPE, text=True
    ) as program:
        assert program.stdout
        try:
            assert program.stdout.readline().startswith("Watching")
            assert program.stdout.readline() == f"{path}: no problem.\n"
            path.write_text(IRON.replace("8b10~ r", "8q10~ r"))
            assert '"8q10~" is not a note' in program.stdout.readline()
            path.unlink()
            assert "there is no such file" in program.stdout.readline()
            path.write_text(IRON)
            assert program.stdout.readline() == f"{path}: no problem.\n"
        finally:
            program.send_signal(signal.SIGINT)
        assert program.wait(20) == 130


def test_watching_nothing_is_told(call: Call) -> None:
    assert "needs the files to watch" in call("check", "--watch").err
