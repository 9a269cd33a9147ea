"""explain, harmonise, finger, demand, move: computed on the command line, and written into files."""

import json
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.notation.iron import IRON
from trainer.arranging.realise import realise_exercise
from trainer.notation.files import read_file


def test_explaining_a_riff_in_words_and_as_data(call: Call) -> None:
    told = call("explain", "lamplighters", "--riff", "First lamp").out
    assert "guitar 2 moves in thirds above guitar 1." in told
    assert "The riff fits E aeolian" in told
    [found] = json.loads(call("explain", "lamplighters", "--riff", "First lamp", "--json").out)
    assert found["facts"]["riff"] == "First lamp"
    assert {sentence["about"] for sentence in found["sentences"]} >= {"intervals", "motion", "mode", "rhythm", "range"}
    alone = call("explain", "lamplighters", "--riff", "First lamp", "--part", "bass").out
    assert "bass is straight throughout." in alone
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
    assert (done.code, "is there already" in done.err) == (2, True)
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
