from fractions import Fraction
from pathlib import Path

import mido
import pytest

from tests.playback.riffs import band, exercise, guitar, melody_bar, riff, rock_bar
from trainer.music.instrument import BASS, instrument
from trainer.music.meter import Meter
from trainer.music.note import Moment, Note
from trainer.music.part import DrumPart, TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.music.sounding import sounding
from trainer.music.tempo import TempoMark
from trainer.playback.gesture import RANGE
from trainer.playback.midi_file import render_midi
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches
from trainer.sounds.rig import Rig


@pytest.fixture(scope="module")
def rig() -> Rig:
    return load_patches()


def compiled(rig: Rig, *riffs: Riff) -> Timeline:
    return Timeline.of(Piece.of(exercise(*riffs), riffs), rig)


def starts(track: mido.MidiTrack) -> list[tuple[int, int]]:
    """Ticks and keys of a track's notes."""
    tick, found = 0, []
    for message in track:
        tick += message.time
        if message.type == "note_on" and message.velocity:
            found.append((tick, message.note))
    return found


def named(file: mido.MidiFile) -> dict[str, mido.MidiTrack]:
    return {track.name: track for track in file.tracks}


def metas(file: mido.MidiFile, kind: str) -> list[tuple[int, mido.MetaMessage]]:
    tick, found = 0, []
    for message in file.tracks[0]:
        tick += message.time
        if message.type == kind:
            found.append((tick, message))
    return found


@pytest.mark.parametrize("share", [Fraction(1), Fraction(3, 5), Fraction(37, 173)])
def test_the_same_notes_come_back_at_the_same_ticks_at_any_tempo(share: Fraction, rig: Rig, tmp_path: Path) -> None:
    music = band(bars=6, target=173)
    render_midi(compiled(rig, music), Plan(Loop(0, 5), share), tmp_path / "x.mid")
    tracks = named(mido.MidiFile(tmp_path / "x.mid"))
    for part in music.tabs:
        written = [(int(note.at * 3840), note.midi) for note in sounding(part, music.bar_starts)]
        assert sorted(starts(tracks[part.name])) == sorted(written)
    assert len(starts(tracks["drums"])) == 6 * 11


def test_odd_meters_triplets_and_gradual_tempo_keep_their_ticks(rig: Rig, tmp_path: Path) -> None:
    meters = (Meter(7, 8), Meter(12, 8), Meter(4, 4))
    bars = (
        melody_bar(1, 2, 3, length=Fraction(1, 4)),
        melody_bar(1, 2, 3, 5, length=Fraction(3, 8)),
        melody_bar(1, 2, 3, 4, 5, 6, length=Fraction(1, 12)),
    )
    marks = (TempoMark(Fraction(1, 2), Fraction(90), True), TempoMark(Fraction(2), Fraction(140), False))
    music = riff(guitar(*bars), meters=meters, marks=marks, target=171)
    render_midi(compiled(rig, music), Plan(Loop(0, 2), passes=2), tmp_path / "x.mid")
    file = mido.MidiFile(tmp_path / "x.mid")
    once = [(int(note.at * 3840), note.midi) for note in sounding(music.tabs[0], music.bar_starts)]
    length = int(music.length * 3840)
    assert starts(named(file)["guitar 1"]) == once + [(tick + length, key) for tick, key in once]
    assert [(tick, m.numerator, m.denominator) for tick, m in metas(file, "time_signature")] == [
        (at + turn * length, meter.counts, meter.unit)
        for turn in (0, 1)
        for at, meter in zip((0, 3360, 3360 + 5760), meters, strict=True)
    ]


def test_the_file_lasts_as_long_as_the_music(rig: Rig, tmp_path: Path) -> None:
    marks = (TempoMark(Fraction(1), Fraction(80), True), TempoMark(Fraction(5), Fraction(200), False))
    music = riff(guitar(*(melody_bar(1, 2, 3, 4) for _ in range(8))), marks=marks, target=173)
    timeline = compiled(rig, music)
    render_midi(timeline, Plan(Loop(0, 7)), tmp_path / "x.mid")
    exact = float(timeline.seconds(Loop(0, 7)))
    assert mido.MidiFile(tmp_path / "x.mid").length == pytest.approx(exact, abs=0.001)


def test_markers_name_the_riffs_where_they_begin_and_keys_and_tempos_stand_there(rig: Rig, tmp_path: Path) -> None:
    first, second = band(2, 168, "Low road"), band(1, 140, "Signal fires")
    render_midi(compiled(rig, first, second, first), Plan(Loop(0, 4), count_in=1), tmp_path / "x.mid")
    file = mido.MidiFile(tmp_path / "x.mid")
    assert [(tick, marker.text) for tick, marker in metas(file, "marker")] == [
        (0, "count-in"),
        (3840, "Low road"),
        (3 * 3840, "Signal fires"),
        (4 * 3840, "Low road"),
    ]
    assert [(tick, message.tempo) for tick, message in metas(file, "set_tempo")] == [
        (0, round(60e6 / 168)),
        (3 * 3840, round(60e6 / 140)),
        (4 * 3840, round(60e6 / 168)),
    ]
    assert [message.key for _, message in metas(file, "key_signature")] == ["Em"]
    assert [tick for tick, _ in starts(named(file)["click"])] == [0, 960, 1920, 2880]
    assert file.tracks[0].name == "Iron Causeway"


def test_each_pass_of_a_climb_has_its_own_tempo(rig: Rig, tmp_path: Path) -> None:
    plan = Plan(Loop(0, 0), Fraction(1, 2), passes=3)
    done = render_midi(
        compiled(rig, band(1, 160)), plan, tmp_path / "x.mid", next_share=lambda report: report.share + Fraction(1, 10)
    )
    tempos = [round(60e6 / message.tempo) for _, message in metas(mido.MidiFile(tmp_path / "x.mid"), "set_tempo")]
    assert tempos == [80, 96, 112]
    assert [report.tempo_bpm for report in done.passes] == [80, 96, 112]


DRUMS = DrumPart("drums", (rock_bar(),))


def channels(path: Path) -> dict[str, set[int]]:
    """The MIDI channels of each track but the first."""
    return {track.name: {m.channel for m in track if not m.is_meta} for track in mido.MidiFile(path).tracks[1:]}


def wide(part: str, strings: int = 6, bend: int | None = None) -> TabPart:
    """A chord on every string; `bend` bends the second."""
    tuning = instrument() if strings == 6 else instrument(BASS)
    chord = tuple(Note(string, 5, bend=bend if string == 2 else None) for string in range(1, strings + 1))
    return TabPart(part, tuning, ((Moment(Fraction(0), chord),),))


def test_each_string_that_sounds_has_a_channel_and_drums_have_the_tenth(rig: Rig, tmp_path: Path) -> None:
    music = riff(wide("guitar 1"), guitar(melody_bar(7, 8), name="guitar 2"), wide("bass", 4), DRUMS)
    render_midi(compiled(rig, music), Plan(Loop(0, 0)), tmp_path / "x.mid")
    assert channels(tmp_path / "x.mid") == {
        "guitar 1": {0, 1, 2, 3, 4, 5},
        "guitar 2": {6},
        "bass": {7, 8, 10, 11},
        "drums": {9},
    }


def test_a_bend_of_one_string_leaves_the_rest_of_the_chord_alone(rig: Rig, tmp_path: Path) -> None:
    music = riff(wide("guitar 1", bend=2))
    for fold, others in ((False, 5), (True, 0)):
        render_midi(compiled(rig, music), Plan(Loop(0, 0)), tmp_path / "x.mid", fold=fold)
        track = named(mido.MidiFile(tmp_path / "x.mid"))["guitar 1"]
        bent = {each.channel for each in track if each.type == "pitchwheel" and each.pitch}
        notes = [each for each in track if each.type == "note_on"]
        assert len(bent) == 1
        assert [each.note for each in notes if each.channel in bent].count(
            music.tabs[0].instrument.open_midi(2) + 5
        ) == 1
        assert len([each for each in notes if each.channel not in bent]) == others


def test_asked_for_the_strings_of_a_guitar_share_one_channel(rig: Rig, tmp_path: Path) -> None:
    done = render_midi(compiled(rig, band(2)), Plan(Loop(0, 1)), tmp_path / "x.mid", fold=True)
    assert channels(tmp_path / "x.mid") == {"guitar 1": {0}, "guitar 2": {1}, "bass": {2}, "drums": {9}}
    assert done.folded == ()


def test_where_strings_outnumber_channels_the_least_bent_part_is_folded(rig: Rig, tmp_path: Path) -> None:
    music = riff(wide("guitar 1"), wide("guitar 2", bend=2), wide("guitar 3", bend=2))
    done = render_midi(compiled(rig, music), Plan(Loop(0, 0)), tmp_path / "x.mid")
    found = channels(tmp_path / "x.mid")
    assert done.folded == ("guitar 1",)
    assert {part: len(numbers) for part, numbers in found.items()} == {"guitar 1": 1, "guitar 2": 6, "guitar 3": 6}
    assert 9 not in set().union(*found.values())
    assert sum(map(len, found.values())) == len(set().union(*found.values()))


def test_each_channel_is_given_its_programme_and_bend_range(rig: Rig, tmp_path: Path) -> None:
    render_midi(compiled(rig, riff(wide("guitar 1"))), Plan(Loop(0, 0)), tmp_path / "x.mid")
    track = named(mido.MidiFile(tmp_path / "x.mid"))["guitar 1"]
    for kind in ("program_change", "note_on"):
        assert {each.channel for each in track if each.type == kind} == set(range(6))
    ranges = [(each.channel, each.value) for each in track if each.type == "control_change" and each.control == 6]
    assert sorted(ranges) == [(channel, RANGE) for channel in range(6)]


def test_a_bend_of_an_octave_is_in_the_file_with_the_range_that_it_needs(rig: Rig, tmp_path: Path) -> None:
    bent = Moment(Fraction(0), (Note(2, 5, bend=17),))
    render_midi(compiled(rig, riff(guitar((bent,)))), Plan(Loop(0, 0)), tmp_path / "x.mid")
    track = named(mido.MidiFile(tmp_path / "x.mid"))["guitar 1"]
    controls = [(each.control, each.value) for each in track if each.type == "control_change"]
    at = controls.index((101, 0))
    assert controls[at : at + 3] == [(101, 0), (100, 0), (6, RANGE)]
    furthest = max(each.pitch for each in track if each.type == "pitchwheel")
    assert 100 * RANGE * furthest / 8192 == pytest.approx(1200, abs=1)


def test_every_note_in_the_file_ends(rig: Rig, tmp_path: Path) -> None:
    render_midi(compiled(rig, band(2)), Plan(Loop(0, 1), passes=2, human_seed=3), tmp_path / "x.mid")
    for track in mido.MidiFile(tmp_path / "x.mid").tracks:
        sounding_keys: list[int] = []
        for message in track:
            if message.type == "note_on":
                sounding_keys.append(message.note)
            elif message.type == "note_off":
                sounding_keys.remove(message.note)
        assert not sounding_keys


def test_a_folder_that_is_not_there_is_a_plain_problem(rig: Rig, tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="its folder does not exist"):
        render_midi(compiled(rig, band(1)), Plan(Loop(0, 0)), tmp_path / "no" / "x.mid")


def test_playing_without_end_is_refused(rig: Rig, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="without end"):
        render_midi(compiled(rig, band(1)), Plan(Loop(0, 0), passes=None), tmp_path / "x.mid")
    assert not list(tmp_path.iterdir())
