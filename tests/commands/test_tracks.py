"""`tracks`: practice tracks in a folder, made once, with plain sentences for what cannot be made."""

import json
from pathlib import Path

import pytest

from tests.commands.conftest import Call

SHORT = ("--riff", "Low road", "--bars", "1", "--passes", "1", "--count-in", "0", "--format", "ogg")


def test_tracks_are_made_once_and_what_is_missing_again(call: Call) -> None:
    words = ("tracks", "iron-causeway", "--out", "tracks", *SHORT, "--tempo", "100%", "--tempo", "84")
    done = call(*words, "--json")
    assert (done.code, done.err) == (0, "")
    told = json.loads(done.out)
    assert [each["tempo_bpm"] for each in told] == [84.0] * 3 + [168.0] * 3
    assert all(each["made"] and Path(each["file"]).stat().st_size > 1000 for each in told)
    assert call(*words).out == "tracks: 0 tracks made; 6 were there already.\n"
    Path(told[0]["file"]).unlink()
    assert call(*words).out == "tracks: 1 track made; 5 were there already.\n"


def test_somebody_elses_file_is_not_replaced(call: Call) -> None:
    Path("tracks").mkdir()
    own = Path("tracks/low-road-168-full-band.ogg")
    own.write_text("mine")
    words = ("tracks", "iron-causeway", "--out", "tracks", *SHORT, "--tempo", "100%", "--version", "full")
    refused = call(*words)
    assert refused.code == 2
    assert "low-road-168-full-band.ogg exists and is not in tracks.json" in refused.err
    assert own.read_text() == "mine"
    assert call(*words, "--replace").code == 0
    assert own.stat().st_size > 1000


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--riff", "Low rode"), 'Did you mean "Low road"?'),
        (("--bars", "1"), "--bars needs one riff: add --riff."),
        (("--part", "gutar 1"), 'Did you mean "guitar 1"?'),
        (("--passes", "0"), "--passes cannot be 0: a whole number from 1 to 100."),
        (("--format", "aac"), "--format"),
        (("--tempo", "fast"), "tempo"),
    ],
)
def test_a_wrong_call_is_one_sentence(call: Call, words: tuple[str, ...], told: str) -> None:
    done = call("tracks", "iron-causeway", "--out", "tracks", *words)
    assert done.code == 2
    assert told in done.err and "Traceback" not in done.err
    assert not Path("tracks").exists()


def test_a_folder_that_is_a_file_is_told(call: Call) -> None:
    Path("tracks").write_text("")
    done = call("tracks", "iron-causeway", "--out", "tracks", *SHORT)
    assert done.code == 2 and "--out cannot be tracks" in done.err
