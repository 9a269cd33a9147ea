"""pack and unpack: a set goes from one player to another, whole, and away again without a trace."""

import json
import os
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.exchange.test_assignment import WEEK
from trainer.exchange.set_file import SetManifest, write_set
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.places import config_folder, data_folder, sets_folder, takes_folder

OWN = """+++
title = "Grey Mole"
tempo = { start = 80, target = 140 }

[parts."guitar 1"]
patch = "my lead"
+++

## Dig

```tab guitar 1
count | 1 2 3 4 |
6     | 0 3 5 0 |
```

## Climb

```tab guitar 1
count | 1 2 3 4 |
6     | 0 3 5 7 |
```

```tab guitar 2
count | 1 2 3 4 |
5     | 0 3 5 7 |
```
"""
PATCH = """
[patch."my base"]
role = "guitar"
sounds = { open = { program = 29 } }

[patch."my lead"]
like = "my base"
level = -3.0

[patch.unused]
like = "my base"

[parts]
bass = "picked bass"
"""
TASKS = """from = "Ines"

[assignments.dig]
exercise = "grey-mole"
riff = "Dig"
tempo = 130
note = "Slowly."

[assignments.climb]
exercise = "grey-mole"
riff = "Climb"
part = "guitar 2"
tempo = 120
"""


@pytest.fixture
def teacher(home: Path) -> Path:
    """A teacher's exercise, patches and assignments."""
    (data_folder() / "exercises").mkdir(parents=True)
    (data_folder() / "exercises" / "grey-mole.md").write_text(OWN)
    (config_folder() / "patches").mkdir(parents=True)
    (config_folder() / "patches" / "mine.toml").write_text(PATCH)
    (home / "work" / "tasks.toml").write_text(TASKS)
    return home


def to_the_student(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on, calls are the student's."""
    for name, folder in (("XDG_CONFIG_HOME", "config"), ("XDG_DATA_HOME", "data"), ("XDG_STATE_HOME", "state"),
                         ("XDG_CACHE_HOME", "cache")):  # fmt: skip
        monkeypatch.setenv(name, str(home / "student" / folder))


def everything(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.suffix in {".md", ".toml", ".json", ".mid"}
    }


def a_take(minute: int = 0) -> str:
    notes = MidiTake(tuple(MidiNote(Fraction(k, 8), 40, 0, 90) for k in range(8)))
    info = TakeInfo(exercise="grey-mole", riff="Dig", part="guitar 1", tempo_bpm=120.0)
    return Takes(takes_folder()).keep(notes, None, info, datetime(2031, 5, 4, 12, minute, tzinfo=UTC)).name


def test_a_set_brings_exercise_patch_and_assignments_and_goes_away_as_a_whole(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = call("pack", "--assignments", "tasks.toml", "--out", "Week 3.twinset", "--plays", "Ana=guitar 2")
    assert packed.code == 0, packed.err
    assert "exercises/grey-mole.md" in packed.out and "patches/own.toml" in packed.out
    to_the_student(teacher, monkeypatch)
    asked = call("unpack", "Week 3.twinset")
    assert "the exercise grey-mole: Grey Mole" in asked.out and "the patch my lead" in asked.out
    assert "unused" not in asked.out and "Nothing was added. To add it: --yes." in asked.out
    assert everything(teacher / "student") == {}
    assert call("unpack", "Week 3.twinset", "--yes").code == 0
    assert "grey-mole" in call("list").out
    assert call("show", "grey-mole").code == 0
    kept = json.loads(call("assign", "--json").out)
    assert [(each["name"], each["source"], each["teacher"]) for each in kept] == [
        ("dig", "Week 3", "Ines"), ("climb", "Week 3", "Ines"),
    ]  # fmt: skip
    assert "Week 3  Ines" in call("unpack").out
    gone = call("unpack", "--remove", "Week 3")
    assert gone.code == 0 and "assignments 2" in gone.out
    assert everything(teacher / "student" / "data") == {}
    assert json.loads(call("assign", "--json").out) == json.loads(call("goals", "--json").out) == []
    assert "No set was unpacked" in call("unpack").out


def test_a_player_gets_what_their_own_part_is_asked_for(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    call(
        "pack", "--assignments", "tasks.toml", "--out", "w.twinset", "--plays", "Ana=guitar 2", "--plays", "Bo=guitar 1"
    )
    to_the_student(teacher, monkeypatch)
    wrong = call("unpack", "w.twinset", "--player", "Eve", "--yes")
    assert wrong.code == 2 and 'no player "Eve"' in wrong.err and "Ana, Bo" in wrong.err
    told = call("unpack", "w.twinset", "--player", "Ana", "--yes")
    assert "Ana plays guitar 2 (you)" in told.out
    assert [each["name"] for each in json.loads(call("assign", "--json").out)] == ["climb"]


@pytest.mark.parametrize(
    ("place", "text", "message"),
    [
        ("exercises/grey-mole.md", OWN.replace("140", "150"), 'another exercise called "grey-mole"'),
        ("patches/mine.toml", PATCH.replace("-3.0", "-9.0"), 'another patch called "my lead"'),
    ],
)
def test_nothing_of_the_players_is_written_over(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch, place: str, text: str, message: str
) -> None:
    call("pack", "grey-mole", "--out", "w.twinset")
    to_the_student(teacher, monkeypatch)
    folder = data_folder() if place.startswith("exercises") else config_folder()
    (folder / place).parent.mkdir(parents=True)
    (folder / place).write_text(text)
    before = everything(teacher / "student")
    told = call("unpack", "w.twinset", "--yes")
    assert told.code == 1 and message in told.err
    assert everything(teacher / "student") == before


def test_what_is_there_already_is_not_added_and_twice_is_refused(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("pack", "grey-mole", "iron-causeway", "--out", "w.twinset")
    to_the_student(teacher, monkeypatch)
    assert "You have the exercise iron-causeway already, the same." in call("unpack", "w.twinset", "--yes").out
    assert sorted(path.name for path in sets_folder().rglob("*.md")) == ["grey-mole.md"]
    again = call("unpack", "w.twinset", "--yes")
    assert again.code != 0 and 'unpack --remove "w"' in again.err


def test_what_the_player_changed_stays_when_the_set_goes(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    call("pack", "grey-mole", "--out", "w.twinset")
    to_the_student(teacher, monkeypatch)
    call("unpack", "w.twinset", "--yes")
    (sets_folder() / "w" / "exercises" / "grey-mole.md").write_text(OWN.replace("140", "141"))
    told = call("unpack", "--remove", "w")
    assert "You had changed grey-mole.md" in told.out
    assert "141" in (data_folder() / "exercises" / "grey-mole.md").read_text()
    assert not sets_folder().joinpath("w").exists()


def test_a_take_goes_to_the_teacher_and_comes_back_with_a_comment(
    call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    student, own = {name: os.environ[name] for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME")}, a_take()
    assert call("pack", "--takes", "1", "--from", "Ana", "--out", "to-ines.twinset").code == 0
    to_the_student(teacher, monkeypatch)  # this time it is the teacher's machine
    mine = a_take()  # of the same name
    assert mine == own
    assert f"the take {own}" in call("unpack", "to-ines.twinset", "--yes").out
    sent = next(take for take in Takes(takes_folder()).all() if take.info.player == "Ana")
    assert sent.name != own and sent.marked and sent.info.sent_as == own
    assert call("takes", "--comment", sent.name, "Looser \x1b[31mwrist.").code == 0
    assert call("pack", "--comments", sent.name, "--from", "Ines", "--out", "back.twinset").code == 0
    for name, value in student.items():
        monkeypatch.setenv(name, value)
    assert "a comment on your take" in call("unpack", "back.twinset", "--yes").out
    told = call("takes").out
    assert f"{own}, Ines: Looser \\x1b[31mwrist." in told
    call("unpack", "--remove", "back")
    assert "Ines" not in call("takes").out
    assert Takes(takes_folder()).take(own) is not None


def test_a_comment_on_a_take_that_is_gone_is_told(call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name = a_take()
    call("takes", "--comment", name, "Good.")
    call("pack", "--comments", name, "--out", "back.twinset")
    call("takes", "--delete", name)
    assert "not kept here any more: 1" in call("unpack", "back.twinset", "--yes").out


def test_a_failure_half_way_leaves_nothing(call: Call, teacher: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    a_take()
    call("pack", "--assignments", "tasks.toml", "--takes", "1", "--out", "w.twinset")
    to_the_student(teacher, monkeypatch)
    data_folder().mkdir(parents=True)
    (data_folder() / "takes").write_text("in the way")
    told = call("unpack", "w.twinset", "--yes")
    assert told.code == 1 and "cannot be kept" in told.err
    assert list(sets_folder().iterdir()) == []
    assert json.loads(call("assign", "--json").out) == []


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("patches/p.toml", b'[parts]\nbass = "picked bass"\n', "patches only"),
        ("patches/p.toml", b"[patch", "not TOML"),
        ("exercises/a.md", b"no exercise", "exercises/a.md"),
        ("exercises/a.md", OWN.replace("my lead", "lead left").replace("+++\ntitle", '+++\nid = "b"\ntitle').encode(),
         "its file is not"),
        ("exercises/a.md", b"\xff\xfe", "no UTF-8"),
        ("assignments.toml", WEEK.replace("iron-causeway", "../up").encode(), "is a path"),
        ("assignments.toml", b"\xff", "no UTF-8"),
        ("takes/20310504-120000-000.mid", b"x", "damaged"),
    ],
    ids=range(8),
)  # fmt: skip
def test_what_is_wrong_inside_is_told_and_nothing_is_added(
    call: Call, home: Path, name: str, data: bytes, message: str
) -> None:
    write_set(home / "work" / "w.twinset", SetManifest("w"), {name: data})
    told = call("unpack", "w.twinset", "--yes")
    assert told.code == 1 and message in told.err
    assert not sets_folder().exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("pack", "--out", "w.twinset"), "nothing to pack"),
        (("pack", "iron-causeway", "--out", "w.zip"), "ending in .twinset"),
        (("pack", "iron-causeway", "--out", "w.twinset", "--name", "../up"), "cannot be called"),
        (("pack", "iron-causeway", "--out", "w.twinset", "--plays", "Ana"), "a player and a part"),
        (("pack", "no-such", "--out", "w.twinset"), "no exercise is called"),
        (("unpack", "--remove", "nothing"), "no set called"),
        (("unpack", "--remove", "../up"), "no set called"),
        (("unpack", "x.twinset", "--remove", "y"), "one of the two"),
    ],
)
def test_a_call_that_cannot_be_is_a_sentence(call: Call, words: tuple[str, ...], message: str) -> None:
    told = call(*words)
    assert told.code == 2 and message in told.err, told
    assert not Path("w.twinset").exists()


def test_two_takes_are_put_together_in_a_file(call: Call, teacher: Path) -> None:
    one, other = a_take(0), a_take(1)
    told = call("takes", "--duo", one, other, "--out", "both.wav")
    assert told.code == 0, told.err
    assert f"left: guitar 1, Dig, grey-mole, {one}" in told.out
    assert Path("both.wav").stat().st_size > 10_000
    assert "needs --out FILE" in call("takes", "--duo", one, other).err
