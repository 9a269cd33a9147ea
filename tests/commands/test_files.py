"""check, tidy, list, show, sounds, completion: what each says, and its exit code."""

import io
import json
import sys
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.notation.iron import IRON
from trainer.commands.table import COMMANDS

UNTIDY = IRON.replace("6     | 0 0 0 0 0 0 0 0 3 2     |", "6   | 0-0-0-0-0-0-0-0-3-2---  |")


def test_help_names_every_command(call: Call) -> None:
    done = call("--help")
    assert done.code == 0
    assert all(f"  {name} " in done.out for name, _ in COMMANDS)


@pytest.mark.parametrize("name", [name for name, _ in COMMANDS])
def test_every_command_has_help(call: Call, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        call(name, "--help")
    assert ended.value.code == 0
    assert f"usage: twinspur {name}" in capsys.readouterr().out


def test_the_version(call: Call) -> None:
    assert call("--version").out.startswith("twinspur 0.")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["chek"], 'no command "chek". Did you mean check?'),
        (["list", "--tga", "x"], "--tga is not known here. Did you mean --tag?"),
        (["show"], "required: EXERCISE. See twinspur show --help."),
        (["show", "iron.md", "--riff", "Low rod"], 'no riff "Low rod" in Iron Causeway. Did you mean "Low road"?'),
        (["show", "iron.md", "--part", "gitar 1"], 'no part "gitar 1". Did you mean "guitar 1"?'),
        (["show", "irn-causeway"], 'no exercise is called "irn-causeway". Did you mean "iron-causeway"'),
        (["completion", "fsh"], "invalid choice"),
    ],
)
def test_a_wrong_call_says_what_is_right(call: Call, words: list[str], message: str) -> None:
    done = call(*words)
    assert done.code == 2
    assert message in done.err
    assert "Traceback" not in done.err
    assert done.out == ""


def test_checking_sound_files(call: Call) -> None:
    assert call("check", "iron.md") == (0, "1 exercise read, no problem.\n", "")
    everything = call("check")
    assert everything.code == 0
    assert int(everything.out.split()[0]) >= 14


def test_checking_says_every_problem(call: Call, home: Path) -> None:
    (home / "work" / "bad.md").write_text(IRON.replace("8b10~ r", "8q10~ r").replace("picked bass", "pickd bass"))
    done = call("check", "bad.md", "iron.md", "none.md")
    assert done.code == 1
    assert 'bad.md:46:18: "8q10~" is not a note' in done.err
    assert 'Did you mean "picked bass"' in done.err
    assert "none.md: there is no such file" in done.err
    as_json = json.loads(call("check", "bad.md", "--json").out)
    assert [(problem["line"], problem["column"]) for problem in as_json[0]["problems"]] == [(13, 1), (46, 18)]


def test_a_harmony_that_no_neck_reaches_is_found_by_check(call: Call, home: Path) -> None:
    (home / "work" / "low.md").write_text(
        IRON.replace('"third below"', '"octave below"').replace("1     | 7 8 10 7  ", "6     | 1 2 3  1  ")
    )
    done = call("check", "low.md")
    assert done.code == 1
    assert "low.md" in done.err


def test_tidying_lines_columns_up_and_keeps_the_rest(call: Call, home: Path) -> None:
    file = home / "work" / "untidy.md"
    file.write_text(UNTIDY)
    assert call("tidy", "untidy.md", "--check").code == 1
    assert file.read_text() == UNTIDY
    assert call("tidy", "untidy.md") == (0, "untidy.md: tidied\n", "")
    assert file.read_text() == IRON
    assert call("tidy", "untidy.md") == (0, "", "")


def test_tidying_standard_input(call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(UNTIDY))
    assert call("tidy", "-").out == IRON


def test_a_file_that_cannot_be_read_is_not_tidied(call: Call, home: Path) -> None:
    file = home / "work" / "bad.md"
    file.write_text(IRON.replace("8b10~ r", "8q10~ r"))
    before = file.read_text()
    assert call("tidy", "bad.md").code == 1
    assert file.read_text() == before


def test_listing_and_finding(call: Call) -> None:
    assert "iron-causeway" in call("list").out
    assert "iron-causeway" in call("list", "causeway", "gallop").out
    assert call("list", "zzz").out == "No exercise matches.\n"
    heads = json.loads(call("list", "--json").out)
    assert all(head["title"] and head["target_bpm"] > 0 and not head["problem"] for head in heads)


def test_the_players_own_folders_are_listed_first(call: Call, home: Path) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text(f'folders = ["{home}/work"]\n')
    assert json.loads(call("list", "--json").out)[0]["id"] == "iron"


def test_wrong_settings_say_where(call: Call, home: Path) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text('[sound]\ndrivr = "alsa"\n')
    done = call("list")
    assert done.code == 1
    assert 'config.toml:2:1: "drivr" is not a key of [sound]' in done.err
    assert 'Did you mean "driver"' in done.err


def test_showing_writes_computed_lines_out(call: Call) -> None:
    done = call("show", "iron.md", "--riff", "signal fires", "--part", "guitar 2")
    assert done.code == 0
    assert "count | " in done.out
    assert "guitar 2" in done.out
    assert "guitar 1" not in done.out


def test_escape_sequences_in_a_file_are_shown_as_codes(call: Call, home: Path) -> None:
    (home / "work" / "evil\x1b[2J.md").write_text(IRON.replace("Two guitars over", "Two \x1b]8;;x\x07 \x9b31m guitars"))
    done = call("show", "evil\x1b[2J.md")
    assert done.code == 0
    assert "\\x1b]8;;x\\x07" in done.out
    wrong = call("check", "evil\x1b[2J.md", "no\x1b[31mne.md")
    assert not any(char in done.out + wrong.out + wrong.err for char in "\x1b\x07\x9b")


def test_sounds_lists_patches_patterns_and_banks(call: Call) -> None:
    done = call("sounds")
    assert all(word in done.out for word in ("lead left", "reverse gallop", "twinspur.sf2", "(in use)"))
    names = json.loads(call("sounds", "--json").out)
    assert {"gallop", "beats", "eighths", "accents"} <= {pattern["name"] for pattern in names["click_patterns"]}
    bank = names["banks"][0]["file"]
    assert len(json.loads(call("sounds", "--bank", bank, "--json").out)["presets"]) >= 8


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_knows_commands_and_options(call: Call, shell: str) -> None:
    script = call("completion", shell).out
    assert "render" in script
    assert "silent-bars" in script
