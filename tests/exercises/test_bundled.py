"""The bundled exercises: read without a problem, tidy, whole, and together all that the file can say."""

import re

import pytest

from tests.exercises.bundled import NAMES, REFERENCE, Bundled, every, load
from tests.exercises.features import possible, said
from trainer.arranging.chord_name import chord_tones
from trainer.music.note import Touch
from trainer.music.sounding import note_midi
from trainer.notation.library import Library
from trainer.notation.read import read
from trainer.notation.tidy import tidy
from trainer.notation.write import write
from trainer.places import bundled
from trainer.playback.piece import Piece
from trainer.playback.timeline import Timeline
from trainer.sounds.load_patches import load_patches

WIDTH = 120
"""Characters that a line of a bundled file has at most."""


@pytest.fixture(params=NAMES)
def one(request: pytest.FixtureRequest) -> Bundled:
    return load(request.param)


def test_there_are_enough_and_each_is_found_under_its_own_id() -> None:
    exercises = [found.exercise for found in every()]
    assert len(exercises) >= 16
    assert [exercise.id for exercise in exercises] == NAMES
    assert len({exercise.title for exercise in exercises}) == len(NAMES)


def test_the_shelf_lists_them_and_not_their_reference() -> None:
    heads = Library([bundled("exercises")]).heads()
    assert sorted(head.id for head in heads) == NAMES
    assert REFERENCE.is_file()


def test_they_are_tidy(one: Bundled) -> None:
    assert tidy(one.text, one.path.name) == one.text
    assert max(len(line) for line in one.text.splitlines()) <= WIDTH


def test_they_read_back_as_they_are_written(one: Bundled) -> None:
    assert read(write(one.exercise), one.path.name) == one.exercise


def test_they_say_together_all_that_the_file_can_say() -> None:
    assert possible() - set().union(*(said(found.text) for found in every())) == set()


def test_each_says_what_it_trains_and_how_to_practise_it(one: Bundled) -> None:
    assert one.exercise.prose.startswith(f"# {one.exercise.title}\n")
    assert "**What it trains:**" in one.exercise.prose
    assert "**How to practise:**" in one.exercise.prose
    assert one.exercise.by == "Tollmere"


def test_tempos_are_those_of_practice(one: Bundled) -> None:
    """Starts that a learner can play, targets that the music wants; a warm-up may stay slower."""
    lowest, highest = (40, 72) if "warm-up" in one.exercise.tags else (60, 200)
    for tempo in [one.exercise.tempo, *(riff.tempo for riff in one.exercise.riffs)]:
        assert lowest <= tempo.start <= tempo.target <= highest
        assert tempo.start <= 100


def test_every_harmony_finds_its_places(one: Bundled) -> None:
    assert not any(riff.harmonies for riff in one.sounding.riffs)


def test_every_part_sounds(one: Bundled) -> None:
    timeline = Timeline.of(Piece.of(one.sounding, one.sounding.played), load_patches([bundled("patches")]))
    sounding = {voice.part for voice, starts in zip(timeline.voices, timeline.starts, strict=True) if starts}
    assert sounding == set(one.exercise.part_names)


def test_chord_names_are_understood_and_true(one: Bundled) -> None:
    for riff in one.exercise.riffs:
        for tab in riff.tabs:
            for moment in (moment for bar in tab.bars for moment in bar if moment.chord):
                tones = chord_tones(moment.chord)
                assert tones is not None, moment.chord
                played = {note_midi(tab.instrument, n) % 12 for n in moment.notes if n.touch is not Touch.DEAD}
                assert played <= tones, f"{moment.chord} in {riff.name}"


def test_the_trade_is_covered() -> None:
    """What a twin-guitar band needs, by the tags under which it is found."""
    tags = {tag for found in every() for tag in found.exercise.tags}
    wanted = {"gallop", "reverse gallop", "triplet gallop", "positions", "power chords", "thirds", "sixths", "fourths"}
    wanted |= {"fifths", "unison", "short notes", "fingering", "bass", "ringing chords", "locrian", "aeolian", "dorian"}
    assert wanted | {"odd meter", "étude"} <= tags


def test_the_reference_lists_them_all() -> None:
    listed = re.findall(
        r"^\| `([a-z-]+)` \| [^|]+ \|$", REFERENCE.read_text(encoding="utf-8").split("## The bundled")[1], re.M
    )
    assert sorted(listed) == NAMES
