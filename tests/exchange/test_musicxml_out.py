"""MusicXML: what a reader of its own finds in it, by the standard's rules, is what the exercise says."""

import xml.etree.ElementTree as ET
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.musical import exercises
from trainer.arranging.realise import realise_exercise
from trainer.exchange.musicxml_out import musicxml, write_musicxml
from trainer.exchange.note_values import written
from trainer.music.exercise import Exercise
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.sounding import sounding
from trainer.notation.files import read_file
from trainer.places import bundled

BUNDLED = sorted(path for path in bundled("exercises").glob("*.md") if path.name != "README.md")
Heard = tuple[Fraction, Fraction, int, int, int]
"""Where a note begins and ends, its key, string and fret."""


def expected(exercise: Exercise, name: str) -> list[Heard]:
    found, at = [], Fraction(0)
    for riff in exercise.riffs:
        part = riff.part(name)
        if isinstance(part, TabPart):
            found += [
                (at + n.at, at + n.end, n.midi, n.note.string, n.note.fret) for n in sounding(part, riff.bar_starts)
            ]
        at += riff.length
    return sorted(found)


def read_by_hand(text: str, staff: str) -> dict[str, list[Heard]]:
    """A plain reader of the standard's own rules: durations, backups, chords and ties."""
    root = ET.fromstring(text)
    names = {each.get("id"): each.findtext("part-name") for each in root.iter("score-part")}
    heard = {}
    for part in root.iter("part"):
        found: list[list] = []
        held: dict[tuple, list] = {}
        start = Fraction(0)
        divisions = 1
        for measure in part.iter("measure"):
            at = last = end = Fraction(0)
            for node in measure:
                divisions = int(node.findtext("divisions", str(divisions)))
                length = Fraction(int(node.findtext("duration", "0")), divisions * 4)
                if node.tag == "backup":
                    at -= length
                if node.tag != "note":
                    continue
                begin = last if node.find("chord") is not None else at
                at, last = begin + length, begin
                end = max(end, at)
                pitch = node.find("pitch")
                if pitch is None or node.findtext("staff") != staff:
                    continue
                key = 12 * (int(pitch.findtext("octave", "")) + 1) + int(pitch.findtext("alter", "0"))
                key += (0, 2, 4, 5, 7, 9, 11)["CDEFGAB".index(pitch.findtext("step", ""))]
                ties = {each.get("type") for each in node.iter("tie")}
                place = (node.findtext("voice"), key, start + begin)
                if "stop" in ties:
                    note = held.pop(place)
                    note[1] = start + begin + length
                else:
                    string, fret = (int(node.findtext(f"notations/technical/{tag}", "0")) for tag in ("string", "fret"))
                    note = [start + begin, start + begin + length, key, string, fret]
                    found.append(note)
                if "start" in ties:
                    held[place[0], key, start + begin + length] = note
            start += end
        heard[names[part.get("id")]] = sorted(tuple(note) for note in found)
    return heard


def same_voice_only(heard: list[Heard]) -> bool:
    """Whether no key sounds twice at once, which a tie by pitch cannot tell apart."""
    starts = defaultdict(set)
    for at, _, key, _, _ in heard:
        if at in starts[key]:
            return False
        starts[key].add(at)
    return True


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_every_pitch_place_and_length_stands_on_both_staves(path: Path) -> None:
    exercise = realise_exercise(read_file(path))
    text = musicxml(exercise)
    for staff in ("1", "2"):
        heard = read_by_hand(text, staff)
        for name in exercise.part_names:
            if wanted := expected(exercise, name):
                assert heard[name] == wanted


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(exercises())
def test_any_music_keeps_its_pitches_places_and_lengths(exercise: Exercise) -> None:
    try:
        exercise = realise_exercise(exercise)
    except ProblemsError:
        return
    wanted = {name: expected(exercise, name) for name in exercise.part_names}
    text = musicxml(exercise)
    if not all(same_voice_only(notes) for notes in wanted.values()):
        ET.fromstring(text)
        return
    heard = read_by_hand(text, "2")
    for name, notes in wanted.items():
        assert not notes or heard[name] == notes


def test_a_compressed_score_holds_the_same_text(tmp_path: Path) -> None:
    import zipfile

    exercise = realise_exercise(read_file(BUNDLED[0]))
    write_musicxml(exercise, tmp_path / "score.mxl")
    with zipfile.ZipFile(tmp_path / "score.mxl") as archive:
        assert archive.read("score.musicxml").decode() == musicxml(exercise)


def test_a_syncopated_triplet_is_tied_at_the_count() -> None:
    values = written(Fraction(1, 6), Fraction(1, 3), Fraction(1, 4))
    assert [(value.name, value.tuplet, value.length) for value in values] == [
        ("eighth", (3, 2), Fraction(1, 12)),
        ("eighth", (3, 2), Fraction(1, 12)),
    ]
