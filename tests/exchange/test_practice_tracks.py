"""Practice tracks: which there are, what they are called, and that they are made whole, once, and tagged."""

import json
from fractions import Fraction
from pathlib import Path

import mutagen
import pytest
import soundfile

from tests.machine import RIG
from tests.playback.riffs import band, exercise
from trainer.exchange.practice_tracks import Batch, TrackRiff, WhoIsHeard, digest_of, plain_name, tracks_of
from trainer.exchange.track_rendering import LIST, made_before, render_tracks
from trainer.music.problem import ProblemsError
from trainer.places import bundled
from trainer.playback.mix import CLICK
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.synth_options import SynthOptions

MUSIC = exercise(band())
PARTS = Piece.of(MUSIC, MUSIC.riffs).part_names
STRETCH = TrackRiff(MUSIC.riffs[0].name, Fraction(170), PARTS, Plan(Loop(0, 0), passes=1, count_in=1))
TEMPOS = [Fraction(120), Fraction(170)]


def tracks(*versions: WhoIsHeard, parts=("guitar 1",), ending: str = ".ogg"):  # type: ignore[no-untyped-def]
    return tracks_of([STRETCH], [TEMPOS], versions, parts, ending)


def test_tracks_go_from_slow_to_fast_in_each_version() -> None:
    found = tracks(*WhoIsHeard)
    riff = MUSIC.riffs[0].name
    assert [each.title for each in found][:4] == [
        f"{riff}, 120 bpm, full band",
        f"{riff}, 120 bpm, without guitar 1",
        f"{riff}, 120 bpm, guitar 1 alone",
        f"{riff}, 170 bpm, full band",
    ]
    assert [each.number for each in found] == [1, 2, 3, 4, 5, 6]
    assert len({each.name for each in found}) == 6
    assert [each.plan.share for each in found[::3]] == [Fraction(120, 170), 1]


def test_a_part_that_rests_has_no_tracks_and_one_that_is_alone_is_not_left_out() -> None:
    assert tracks(WhoIsHeard.ALONE, parts=("guitar 3",)) == ()
    solo = TrackRiff("Solo", Fraction(100), ("guitar 1",), STRETCH.plan)
    lonely = tracks_of([solo], [[Fraction(80)]], list(WhoIsHeard), ["guitar 1"], ".mp3")
    assert [each.name for each in lonely] == ["solo-080-full-band.mp3", "solo-080-guitar-1-alone.mp3"]


def test_who_is_heard() -> None:
    without, alone = tracks(WhoIsHeard.WITHOUT)[0].plan.mix, tracks(WhoIsHeard.ALONE)[0].plan.mix
    assert [part for part in (*PARTS, CLICK) if not without.heard(part)] == ["guitar 1"]
    assert [part for part in (*PARTS, CLICK) if alone.heard(part)] == ["guitar 1", CLICK]


@pytest.mark.parametrize("text", ["", "../..", "a/b", "¡¿", "x" * 500, "COM1:", "\x1b[31m"])
def test_a_name_is_safe_in_any_folder(text: str) -> None:
    name = plain_name(text)
    assert name and len(name) <= 60 and set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


def make(folder: Path, ending: str = ".ogg", workers: int = 2):  # type: ignore[no-untyped-def]
    bank = bundled("patches") / "twinspur.sf2"
    wanted = tracks(*WhoIsHeard, ending=ending)
    batch = Batch(MUSIC, RIG, bank, SynthOptions(), folder, len(wanted))
    digests = {each.name: digest_of(each, MUSIC, b"bank", batch.options) for each in wanted}
    made = made_before(folder)
    missing = [each for each in wanted if made.get(each.name) != digests[each.name]]
    done: list[str] = []
    render_tracks(batch, missing, digests, made, lambda track, answer: done.append(track.name), workers=workers)
    return wanted, done


def test_each_is_made_once_whole_and_as_long_as_its_tempo_says(tmp_path: Path) -> None:
    wanted, done = make(tmp_path)
    assert sorted(done) == sorted(each.name for each in wanted)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*done, LIST])
    bar = MUSIC.riffs[0].meters[0].length * 240  # seconds at one beat a minute, two bars: the count-in and the pass
    for each in wanted:
        seconds = soundfile.info(tmp_path / each.name).duration
        assert 2 * bar / each.tempo_bpm <= seconds <= float(2 * bar / each.tempo_bpm) + 4.5
    assert make(tmp_path)[1] == []
    (tmp_path / wanted[1].name).unlink()
    assert make(tmp_path)[1] == [wanted[1].name]
    (tmp_path / LIST).write_text("[" * 5000)
    assert made_before(tmp_path) == {}


@pytest.mark.parametrize("ending", [".mp3", ".flac", ".ogg", ".wav"])
def test_they_carry_their_tags(tmp_path: Path, ending: str) -> None:
    wanted, _ = make(tmp_path, ending)
    file = mutagen.File(tmp_path / wanted[0].name)
    tags = {key.casefold(): str(value[0] if isinstance(value, list) else value) for key, value in file.tags.items()}
    assert wanted[0].title in tags.values()
    assert MUSIC.title in tags.values()
    assert "120" in tags.values()


def test_a_folder_that_goes_away_is_a_sentence_and_leaves_no_worker(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="cannot be written"):
        make(tmp_path / "nowhere")


def test_what_changed_has_another_digest() -> None:
    one, other = tracks(WhoIsHeard.FULL)
    options = SynthOptions()
    assert digest_of(one, MUSIC, b"a", options) == digest_of(one, MUSIC, b"a", options)
    found = {digest_of(one, MUSIC, b"a", options), digest_of(other, MUSIC, b"a", options)}
    found |= {digest_of(one, MUSIC, b"b", options), digest_of(one, MUSIC, b"a", SynthOptions(gain=0.3))}
    assert len(found) == 4
    assert json.loads(json.dumps(sorted(found)))
