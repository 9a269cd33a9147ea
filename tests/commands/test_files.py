"""check, tidy, list, show, sounds, completion: what each says, and its exit code."""

import io
import json
import subprocess
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


def test_a_readme_beside_exercises_is_passed_over_with_a_word(call: Call, home: Path) -> None:
    words = "# About these\n\nWords.\n"
    (home / "work" / "README.md").write_text(words)
    said = "README.md: no exercise, passed over.\n"
    assert call("check", "README.md", "iron.md") == (0, f"{said}1 exercise read, no problem.\n", "")
    assert call("tidy", "iron.md", "README.md") == (0, said, "")
    assert (home / "work" / "README.md").read_text() == words
    assert len(json.loads(call("check", "README.md", "iron.md", "--json").out)) == 1


def test_what_else_is_no_exercise_is_still_a_problem_and_a_readme_may_be_an_exercise(call: Call, home: Path) -> None:
    (home / "work" / "notes.md").write_text("# Notes\n")
    (home / "work" / "readme.md").write_text(IRON.replace("| 1 &", "| 1 9", 1))
    assert call("check", "notes.md").code == 1
    assert call("check", "readme.md").code == 1
    assert call("check", "sub/README.md").code == 1  # it is not there


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


def completed(script: str, *words: str) -> list[str]:
    """What bash offers for the last of some words."""
    ask = f"""
COMP_WORDS=(twinspur {" ".join(f"'{word}'" for word in words)}); COMP_CWORD={len(words)}
_shtab_twinspur 2>/dev/null; printf '%s\\n' "${{COMPREPLY[@]}}"
"""
    done = subprocess.run(["bash", "--norc"], input=script + ask, capture_output=True, text=True, check=True)
    return done.stdout.split("\n")[:-1]


def test_completion_offers_exercises_and_files(call: Call, home: Path) -> None:
    own = home / "data" / "twinspur" / "exercises"
    own.mkdir(parents=True)
    script = call("completion", "bash").out
    (own / "iron-own.md").write_text(IRON)  # added after the script was printed
    assert {"iron-causeway", "iron-own", "iron.md"} <= set(completed(script, "play", "iron"))
    assert "README" not in completed(script, "play", "")
    assert "iron-causeway" in completed(script, "check", "iron.md", "iron-c")
    assert "iron-causeway" in completed(script, "duo", "--exercise", "iron-c")
    (home / "work" / "take.flac").write_bytes(b"")
    assert completed(script, "judge", "iron-causeway", "ta") == ["take.flac"]


def test_completion_is_safe_with_odd_file_names(call: Call, home: Path) -> None:
    own = home / "data" / "twinspur" / "exercises"
    own.mkdir(parents=True)
    for name in ("$(touch gone).md", "`touch gone`.md", "two words.md", "*.md", "-n.md"):
        (own / name).write_text(IRON)
        (home / "work" / name).write_text(IRON)
    script = call("completion", "bash").out
    offered = completed(script, "play", "")
    assert {"$(touch gone)", "two words", "two words.md", "-n"} <= set(offered)
    assert completed(script, "play", "two w") == ["two words", "two words.md"]
    assert not (home / "work" / "gone").exists()
