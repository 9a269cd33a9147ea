"""The bundled exercises as evidence: what is written there by hand, and what is computed from them."""

from collections.abc import Iterator
from itertools import combinations, groupby
from pathlib import Path

import pytest

from trainer.arranging.demand import demand
from trainer.arranging.explain import explain
from trainer.arranging.fingered import finger
from trainer.arranging.harmony_line import bar_scales
from trainer.arranging.harmony_pitch import answer
from trainer.arranging.interval_line import Shared, interval_line
from trainer.arranging.realise import harmony_problems, realise, realise_exercise
from trainer.arranging.sentences import sentences
from trainer.music.exercise import Exercise
from trainer.music.interval import NUMBER_NAMES, Distance
from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi
from trainer.notation.read import read

FOLDER = Path(__file__).parents[2] / "exercises"
FILES = sorted(path for path in FOLDER.glob("*.md") if path.name != "README.md")
LONG_ENOUGH = 6
"""So many notes in a row at one interval make a passage in harmony."""


def load(path: Path) -> Exercise:
    return read(path.read_text(encoding="utf-8"), path.name)


def distances(number: int) -> Iterator[Distance]:
    for side in ("above", "below"):
        for quality in ("", "perfect ", "major ", "minor "):
            try:
                yield Distance.parse(f"{quality}{NUMBER_NAMES[number - 1]} {side}")
            except ValueError:
                continue


def hand_written() -> Iterator[tuple[str, Riff, TabPart, TabPart, list[Shared]]]:
    """Every passage of two guitars that keeps one interval, but unisons and octaves."""
    for path in FILES:
        for riff in load(path).riffs:
            guitars = [part for part in riff.tabs if part.name.startswith("guitar")]
            for one, other in combinations(guitars, 2):
                for number, run in groupby(interval_line(one, other, riff), key=lambda shared: shared.number):
                    passage = list(run)
                    if number not in (1, 8) and len(passage) >= LONG_ENOUGH:
                        yield f"{path.stem}: {riff.name}", riff, one, other, passage


PASSAGES = list(hand_written())


def test_the_exercises_hold_thirds_fourths_fifths_and_sixths_by_hand() -> None:
    assert {passage[0].number for *_, passage in PASSAGES} >= {3, 4, 5, 6}


@pytest.mark.parametrize(
    ("riff", "one", "passage"), [(r, o, p) for _, r, o, _, p in PASSAGES], ids=[p[0] for p in PASSAGES]
)
def test_one_interval_computes_what_was_written_by_hand(riff: Riff, one: TabPart, passage: list[Shared]) -> None:
    scales = {
        (number, moment.offset): scale
        for number, bar in enumerate(one.bars, 1)
        for moment, scale in zip(bar, bar_scales(one, bar, riff.key), strict=True)
    }
    assert any(
        all(answer(s.one, scales[(s.bar, s.offset)], distance).midi == s.other.midi for s in passage)
        for distance in distances(passage[0].number)
    )


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_harmony_can_be_played_as_it_is_computed(path: Path) -> None:
    exercise = load(path)
    for riff in exercise.riffs:
        assert harmony_problems(riff, path.name) == ()
        played = realise(riff, path.name)
        assert played.harmonies == ()
        for part in riff.harmonies:
            found = played.part(part.name)
            assert isinstance(found, TabPart)
            assert all(
                note.fret <= found.instrument.last_fret for bar in found.bars for moment in bar for note in moment.notes
            )


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_everything_can_be_explained_fingered_and_measured(path: Path) -> None:
    for riff in realise_exercise(load(path), path.name).riffs:
        facts = explain(riff)
        told = sentences(facts, riff)
        assert all(sentence.text.endswith(".") and "  " not in sentence.text for sentence in told)
        for part in riff.tabs:
            again = finger(part, riff, anew=True).part
            assert pitches(again) == pitches(part)
            assert 0 <= demand(part, riff).share < 1.5


def pitches(part: TabPart) -> list[list[int]]:
    return [
        sorted(note_midi(part.instrument, note) for note in moment.notes if note.touch is not Touch.DEAD)
        for bar in part.bars
        for moment in bar
        if moment.notes
    ]


def test_the_line_that_mixes_two_modes_is_named_as_such() -> None:
    mixed = {
        (riff.name, one.mode)
        for path in FILES
        if path.stem == "half-moon"
        for riff in realise_exercise(load(path)).riffs
        for one in explain(riff).mixed
    }
    assert ("Light and dark", "dorian") in mixed
