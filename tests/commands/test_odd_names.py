"""Names that nobody would choose: no UTF-8, too long, nobody's home; each is told in a sentence or simply used."""

import json
import os
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.notation.iron import IRON
from trainer.commands.line import OWN_MISTAKE
from trainer.commands.terminal import say_json

NO_UTF_8 = os.fsdecode(b"bad\xff")
ODD = [NO_UTF_8, f"{NO_UTF_8}.md", "a" * 5000, "~no-such-player/x", "", "/" * 300, "/".join(["a" * 200] * 30), "²", "."]
CALLS = [
    ("check", "ODD"),
    ("tidy", "ODD"),
    ("show", "ODD"),
    ("show", "iron.md", "--riff", "ODD"),
    ("explain", "iron.md", "--part", "ODD"),
    ("form", "ODD"),
    ("demand", "ODD"),
    ("finger", "iron.md", "--tempo", "ODD"),
    ("harmonise", "iron.md", "--interval", "ODD"),
    ("harmonise", "iron.md", "--interval", "third above", "--as", "ODD"),
    ("move", "ODD", "--down", "half"),
    ("move", "iron.md", "--down", "half", "--out", "ODD"),
    ("new", "ODD"),
    ("new", "Grey Mole", "--out", "ODD"),
    ("read-tab", "ODD"),
    ("render", "iron.md", "--riff", "Signal fires", "--out", "ODD.mid"),
    ("judge", "ODD", "iron.md"),
    ("log", "ODD"),
    ("log", "--export", "ODD.json"),
    ("log", "--import", "ODD"),
    ("goals", "ODD"),
    ("goals", "iron-causeway", "ODD"),
    ("today", "--minutes", "ODD"),
    ("takes", "--export", "ODD", "ODD"),
    ("sounds", "ODD"),
]


@pytest.mark.parametrize("words", CALLS, ids=" ".join)
def test_no_name_ends_a_command_with_a_mistake_of_its_own(call: Call, words: tuple[str, ...]) -> None:
    for odd in ODD:
        done = call(*(word.replace("ODD", odd) for word in words))
        assert done.code != OWN_MISTAKE, (odd[:20], done.err)
        assert done.code == 0 or done.err


def test_a_settings_file_may_name_nobodys_home(call: Call, home: Path) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text('folders = ["~no-such-player/riffs"]')
    assert call("list").code == 0


def test_an_exercise_whose_file_name_is_no_utf_8_is_listed_shown_and_rendered(call: Call, home: Path) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text(f'folders = ["{home / "work"}"]')
    (home / "work" / f"{NO_UTF_8}.md").write_text(IRON.replace("Iron Causeway", "Grey Mole", 1))
    assert "Grey Mole" in call("list").out
    listed = next(each for each in json.loads(call("list", "--json").out) if each["title"] == "Grey Mole")
    assert listed["id"] == "bad\\udcff"
    for words in (("show",), ("form",), ("explain", "--json"), ("move", "--down", "half")):
        assert call(words[0], f"{NO_UTF_8}.md", *words[1:]).code == 0
    for ending in ("wav", "mid"):
        name = f"{NO_UTF_8}.{ending}"
        assert call("render", f"{NO_UTF_8}.md", "--riff", "Signal fires", "--out", name).code == 0
        assert (home / "work" / name).stat().st_size > 100


@pytest.mark.parametrize("name", ["My Riff.md", "Ünd.md", "___.md"])
def test_a_file_whose_name_is_no_id_moves(call: Call, home: Path, name: str) -> None:
    (home / "work" / name).write_text(IRON)
    assert call("move", name, "--down", "half", "--out", "moved.md").code == 0
    assert call("check", "moved.md").code == 0


@pytest.mark.parametrize("name", ["a  b", "a\tb", " guitar 3 "])
def test_a_harmonys_name_may_hold_blanks(call: Call, name: str) -> None:
    done = call("harmonise", "iron.md", "--riff", "Low road", "--interval", "third above", "--as", name)
    assert done.code == 0
    assert f", {' '.join(name.split())}: " in done.out


@pytest.mark.parametrize("name", ["", "  ", "a\x1bb", "a\u202eb"])
def test_a_harmony_needs_a_name_of_plain_characters(call: Call, name: str) -> None:
    done = call("harmonise", "iron.md", "--riff", "Low road", "--interval", "third above", "--as", name)
    assert (done.code, "--as needs a part's name" in done.err) == (2, True)


def test_json_escapes_what_a_terminal_acts_on_or_hides(capsys: pytest.CaptureFixture[str]) -> None:
    odd = "a\x9b31m\u202e\u200b\x7f\udcff\U000e0041\n\té"
    say_json({odd: [odd]})
    out = capsys.readouterr().out
    assert json.loads(out.encode("utf-8")) == {odd: [odd]}
    assert "é" in out
    assert all(each.isprintable() for each in out.replace("\n", ""))


REPLACING = [
    (("render", "iron.md", "--riff", "Signal fires", "--out"), "a.wav"),
    (("render", "iron.md", "--riff", "Signal fires", "--out"), "a.mid"),
    (("play", "iron.md", "--riff", "Signal fires", "--out"), "a.mid"),
    (("move", "iron.md", "--down", "half", "--out"), "a.md"),
    (("log", "--export"), "a.json"),
    (("log", "--export"), "a.csv"),
]


@pytest.mark.parametrize(("words", "name"), REPLACING)
def test_a_file_that_is_there_is_replaced_only_when_told(
    call: Call, home: Path, words: tuple[str, ...], name: str
) -> None:
    path = home / "work" / name
    path.write_text("mine")
    path.chmod(0o640)
    done = call(*words, name)
    assert (done.code, done.err) == (2, f"twinspur: {name} exists. Name another file, or add --replace.\n")
    assert path.read_text() == "mine"
    assert call(*words, name, "--replace").code == 0
    assert path.read_bytes() != b"mine"
    assert path.stat().st_mode & 0o777 == 0o640


def test_without_a_sound_device_play_writes_to_a_free_name(
    call: Call, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text('[sound]\ndriver = "pulseaudio"\n')
    monkeypatch.setenv("PULSE_SERVER", f"unix:{home / 'nobody'}")
    words = ("play", "iron.md", "--riff", "Signal fires", "--bars", "1", "--count-in", "0")
    for name in ("iron.wav", "iron-2.wav", "iron-3.wav"):
        done = call(*words)
        assert done.code == 0
        assert f"is written to {name} instead." in done.err and done.out.startswith(f"{name}: ")
        assert (home / "work" / name).stat().st_size > 10_000
    first = home / "work" / "iron.wav"
    first.write_text("mine")
    assert call(*words, "--replace").code == 0
    assert first.stat().st_size > 10_000 and not (home / "work" / "iron-4.wav").exists()
