"""explain, harmonise, finger, demand, move: computed on the command line, and written into files."""

import json
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.notation.iron import IRON
from trainer.arranging.fingered import fingerings
from trainer.arranging.realise import realise_exercise
from trainer.notation.files import read_file
from trainer.places import bundled


def test_explaining_a_riff_in_words_and_as_data(call: Call) -> None:
    page = call("explain", "lamplighters", "--riff", "First lamp").out
    assert max(map(len, page.splitlines())) <= 80
    headings = ["To play", "Who plays what", "Harmony", "Rhythm"]
    assert [line for line in page.splitlines() if line in headings] == headings
    told = " ".join(page.split())
    assert "guitar 2 plays thirds above guitar 1" in told
    assert "The riff fits E aeolian" in told
    [found] = json.loads(call("explain", "lamplighters", "--riff", "First lamp", "--json").out)
    assert found["facts"]["riff"] == "First lamp"
    assert {sentence["about"] for sentence in found["sentences"]} >= {"intervals", "motion", "mode", "rhythm", "range"}
    alone = " ".join(call("explain", "lamplighters", "--riff", "First lamp", "--part", "bass").out.split())
    assert "guitar 1, guitar 2 and bass are straight throughout." in alone
    assert "guitar 1 covers" not in alone


def test_harmonising_shows_what_the_file_would_say(call: Call, home: Path) -> None:
    before = (home / "work" / "iron.md").read_text()
    [low] = json.loads(call("harmonise", "iron.md", "--riff", "Low road", "--interval", "octave above", "--json").out)
    assert {interval["number"] for interval in low["intervals"]} <= {8}
    assert (home / "work" / "iron.md").read_text() == before
    assert (
        "is written" in call("harmonise", "iron.md", "--riff", "Low road", "--interval", "octave above", "--write").out
    )
    after = (home / "work" / "iron.md").read_text()
    assert '```harmony guitar 2\nfollows = "guitar 1"\ninterval = "octave above"\n```' in after
    assert call("check", "iron.md").code == 0
    again = call("harmonise", "iron.md", "--riff", "Low road", "--interval", "octave above", "--write")
    assert again.code == 0
    assert (home / "work" / "iron.md").read_text() == after


def test_a_computed_line_written_as_tab_sounds_the_same(call: Call, home: Path) -> None:
    computed = realise_exercise(read_file(Path("iron.md"))).riffs[1].part("guitar 2")
    words = ["--riff", "Signal fires", "--interval", "third below", "--write-tab"]
    before = (home / "work" / "iron.md").read_text()
    refused = call("harmonise", "iron.md", *words)
    assert refused.code == 2
    assert "has a harmony guitar 2 already. Nothing is written" in refused.err
    assert (home / "work" / "iron.md").read_text() == before
    words.append("--replace")
    assert call("harmonise", "iron.md", *words).code == 0
    assert "```harmony" not in (home / "work" / "iron.md").read_text()
    assert read_file(Path("iron.md")).riffs[1].part("guitar 2") == computed


def test_fingering_in_several_ways_and_writing_one(call: Call, home: Path) -> None:
    ways = json.loads(
        call("finger", "iron.md", "--riff", "Signal fires", "--part", "guitar 1", "--anew", "--ways", "3", "--json").out
    )
    assert [way["way"] for way in ways] == list(range(1, len(ways) + 1))
    assert len({tuple(way["tab"]) for way in ways}) == len(ways) >= 2
    assert [way["cost"] for way in ways] == sorted(way["cost"] for way in ways)
    words = ["--riff", "Low road", "--part", "guitar 1", "--write", "1"]
    assert call("finger", "iron.md", *words).code == 0
    text = (home / "work" / "iron.md").read_text()
    assert "finger | " in text
    assert call("tidy", "iron.md", "--check").code == 0


def test_where_on_the_neck_is_the_players_choice(call: Call) -> None:
    words = ["finger", "iron.md", "--riff", "Low road", "--part", "guitar 1", "--anew", "--json"]
    [way] = json.loads(call(*words, "--strings", "6").out)
    assert not any(line.startswith("5 ") for line in way["tab"])
    done = call(*words, "--strings", "1-2")
    assert done.code == 1
    assert "iron.md" in done.err


def test_demand_names_the_hardest_place_and_a_tempo_to_begin_at(call: Call) -> None:
    told = call("demand", "iron.md", "--riff", "Low road", "--tempo", "200", "--by-bar").out
    assert "At 200 bpm, hardest in bar" in told
    assert "Begin the climb at" in told
    [slow] = json.loads(call("demand", "iron.md", "--riff", "Low road", "--tempo", "80", "--json").out)
    [fast] = json.loads(call("demand", "iron.md", "--riff", "Low road", "--tempo", "160", "--json").out)
    assert fast["bars"][0]["notes_per_s"] == pytest.approx(2 * slow["bars"][0]["notes_per_s"])


def test_moving_writes_a_new_file_and_keeps_the_old_one(call: Call, home: Path) -> None:
    assert call("move", "iron.md", "--key", "G aeolian", "--out", "moved.md").code == 0
    moved = read_file(home / "work" / "moved.md")
    assert str(moved.key) == "G aeolian"
    assert str(moved.riffs[1].key) == "D locrian"
    assert (home / "work" / "iron.md").read_text() == IRON
    done = call("move", "iron.md", "--key", "A aeolian", "--out", "moved.md")
    assert (done.code, "moved.md exists." in done.err) == (2, True)
    assert call("move", "iron.md", "--strings", "7").out.startswith("+++\n")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["harmonise", "iron.md", "--interval", "thrid above"], 'Did you mean "third above"'),
        (["harmonise", "iron.md", "--interval", "third above", "--as", "guitar 1"], "does not follow itself"),
        (["harmonise", "iron.md", "--part", "flute", "--interval", "third above"], 'no riff has a part "flute"'),
        (["explain", "iron.md", "--riff", "Low rod"], "Low road"),
        (["demand", "iron.md", "--riff", "Low road", "--part", "drums"], "'drums' has no pitches"),
        (["finger", "iron.md", "--ways", "99"], "1 to 12"),
        (["finger", "iron.md", "--fingers", "5"], "1 to 4"),
        (["finger", "iron.md", "--strings", "9-2"], "such as 1-3"),
        (["finger", "iron.md", "--write", "1"], "add --riff and --part"),
        (["demand", "iron.md", "--tempo", "9000"], "20 to 400 bpm"),
        (["move", "iron.md"], "say where it goes"),
        (["move", "iron.md", "--key", "G lochrian"], 'Did you mean "G locrian"'),
        (["move", "iron.md", "--tuning", "E2 X2"], '"X2" is not a pitch'),
        (["move", "iron.md", "--strings", "3"], "4, 5, 6, 7, 8"),
    ],
)
def test_what_cannot_be_computed_is_told(call: Call, words: list[str], message: str) -> None:
    done = call(*words)
    assert (done.code, message in done.err) == (2, True), done.err


def test_a_harmony_out_of_range_names_the_note_and_writes_nothing(call: Call, home: Path) -> None:
    done = call("harmonise", "iron.md", "--riff", "Low road", "--interval", "octave below", "--write")
    assert done.code == 1
    assert "below the neck's lowest, E2" in done.err
    assert (home / "work" / "iron.md").read_text() == IRON


def test_a_bundled_exercise_is_not_changed_but_copied(call: Call, home: Path) -> None:
    bundled_file = bundled("exercises") / "iron-causeway.md"
    before = bundled_file.read_bytes()
    words = ["--riff", "Low road", "--interval", "octave above", "--write"]
    told = call("harmonise", "iron-causeway", *words)
    assert told.code == 0
    assert bundled_file.read_bytes() == before
    copy = Path(told.out.strip().splitlines()[-1].partition(": ")[0])
    assert not copy.is_relative_to(bundled("exercises"))
    assert "```harmony guitar 2" in copy.read_text()


def test_an_edit_saved_meanwhile_is_not_lost(call: Call, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = home / "work" / "iron.md"

    def slow(*arguments: object, **options: object) -> object:
        path.write_text(path.read_text() + "\nA line of mine.\n")
        return fingerings(*arguments, **options)  # type: ignore[arg-type]

    monkeypatch.setattr("trainer.commands.finger.fingerings", slow)
    refused = call("finger", "iron.md", "--riff", "Low road", "--part", "guitar 1", "--write", "1")
    assert refused.code == 2
    assert "was changed while this was computed" in refused.err
    assert path.read_text().endswith("A line of mine.\n")
    assert "finger | " not in path.read_text()


def test_line_ends_stay_what_they_are(call: Call, home: Path) -> None:
    path = home / "work" / "iron.md"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert call("finger", "iron.md", "--riff", "Low road", "--part", "guitar 1", "--write", "1").code == 0
    data = path.read_bytes()
    assert b"finger | " in data
    assert data.count(b"\n") == data.count(b"\r\n")


def test_a_players_own_limits_move_where_they_are_reached(call: Call, home: Path) -> None:
    trained = call("demand", "iron.md", "--riff", "Low road", "--part", "guitar 1").out
    own = call("demand", "iron.md", "--riff", "Low road", "--part", "guitar 1", "--limit", "strokes=8").out
    assert "house rules" in trained
    assert "Limits of your own: strokes; the others are house rules" in own
    assert "ask a doctor" in own
    assert "the limit of 8.0 strokes a second" in own
    assert call("demand", "iron.md", "--limit", "speed=9").code == 2
    (home / "config" / "twinspur").mkdir(parents=True, exist_ok=True)
    (home / "config" / "twinspur" / "config.toml").write_text("[hands]\nstrokes = 9\n")
    set_once = call("demand", "iron.md", "--riff", "Low road", "--part", "guitar 1").out
    assert "the limit of 9.0 strokes a second" in set_once


def test_tuning_the_band_down_on_the_command_line(call: Call) -> None:
    told = call("move", "iron.md", "--down", "half")
    assert told.code == 0
    assert '"Eb2", "Ab2", "Db3", "Gb3", "Bb3", "Eb4"' in told.out.replace("'", '"') or "Eb2 Ab2 Db3" in told.out
    assert call("move", "iron.md", "--down", "half", "--key", "A aeolian").code == 2
    assert call("move", "iron.md", "--keep-frets", "--key", "A aeolian").code == 2
    assert call("move", "iron.md", "--keep-frets", "--tuning", "D2 A2 D3 G3 B3 E4").code == 0


def test_the_form_of_an_exercise(call: Call) -> None:
    told = call("form", "the-long-watch")
    assert told.code == 0
    assert "2. First watch x2: 4 bars of 4/4, E aeolian, 152 bpm" in told.out
    found = json.loads(call("form", "the-long-watch", "--json").out)
    assert found["form"]["rows"][1]["times"] == 2


def test_two_versions_of_a_file_are_compared(call: Call, home: Path) -> None:
    text = (home / "work" / "iron.md").read_text()
    assert "7 5 3 2" in text
    (home / "work" / "newer.md").write_text(text.replace("7 5 3 2", "7 5 3 3", 1))
    done = call("compare", "iron.md", "newer.md")
    assert done.code == 0
    assert "The same but for beat 4 of bar 2: another pitch." in done.out
    assert "The same, note for note." in done.out
    assert call("compare", "iron.md", "iron.md").out.count("note for note") >= 3
    [found] = json.loads(call("compare", "iron.md", "newer.md", "--riff", "Low road", "--json").out)
    [pair] = [pair for part in found["parts"] for pair in part["pairs"] if pair["beats"]]
    assert [beat["kinds"] for beat in pair["beats"]] == [["pitch"]]


def test_two_riffs_and_two_parts_of_one_exercise_are_compared(call: Call) -> None:
    done = call("compare", "iron-causeway", "--riff", "Low road", "--with-riff", "Wet stones")
    assert "Low road and Wet stones" in done.out
    parts = call("compare", "lamplighters", "--riff", "First lamp", "--part", "guitar 1", "--with-part", "guitar 2")
    assert "The rhythm is the same throughout." in parts.out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("iron.md",), "Compare what with what?"),
        (("iron.md", "--with-riff", "Low road"), "--with-riff needs --riff"),
        (("iron.md", "--riff", "Low road", "--with-part", "bass"), "--with-part needs --part"),
        (("iron.md", "--riff", "Low road", "--part", "guitar 1", "--with-part", "gitar 1"), 'Did you mean "guitar 1"?'),
        (
            ("iron.md", "--riff", "Low road", "--part", "drums", "--with-part", "guitar 1"),
            "only one of them has pitches",
        ),
    ],
)
def test_what_cannot_be_compared_is_told(call: Call, words: tuple[str, ...], told: str) -> None:
    done = call("compare", *words)
    assert done.code == 2
    assert told in done.err


def test_a_written_second_guitar_becomes_a_harmony_block(call: Call, home: Path) -> None:
    """Written out as a tab first, then found again: the block plays what the tab said."""
    assert call("harmonise", "iron.md", "--riff", "Low road", "--interval", "third above", "--write-tab").code == 0
    tab = realise_exercise(read_file(Path("iron.md"))).riffs[0].part("guitar 2")
    words = ("harmonise", "iron.md", "--riff", "Low road", "--from-tab")
    shown = call(*words)
    assert 'interval = "third above"' in shown.out
    assert "guitar 2 follows guitar 1 at the third above throughout." in shown.out
    refused = call(*words, "--write")
    assert refused.code == 2
    assert "Nothing is written" in refused.err
    assert call(*words, "--write", "--replace").code == 0
    assert "```harmony guitar 2" in (home / "work" / "iron.md").read_text()
    assert realise_exercise(read_file(Path("iron.md"))).riffs[0].part("guitar 2") == tab
    assert "not both" in call("harmonise", "iron.md").err
