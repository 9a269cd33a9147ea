from dataclasses import replace
from fractions import Fraction

from tests.arranging.lines import eighths, riff_of, tab_part
from trainer.arranging.form_map import form_map, form_sentences
from trainer.music.exercise import Exercise, FormStep
from trainer.music.key import Key
from trainer.music.note import Note
from trainer.music.tempo import Tempo


def exercise() -> Exercise:
    low = replace(riff_of(tab_part(eighths(*(Note(6, 2) for _ in range(8)))), bpm=120), name="Low")
    high = replace(
        riff_of(tab_part(eighths(*(Note(2, 9) for _ in range(4)))), bpm=120),
        name="High",
        key=Key.parse("B phrygian"),
        tempo=Tempo(Fraction(90), Fraction(180)),
    )
    steps = (FormStep("Low", 2), FormStep("High"), FormStep("Low"))
    return Exercise("own", "Own", low.key, low.tempo, (low, high), form=steps)


def test_the_form_is_told_riff_by_riff() -> None:
    found = form_map(exercise())
    assert [(row.riff, row.times, row.bars) for row in found.rows] == [("Low", 2, 1), ("High", 1, 1), ("Low", 1, 1)]
    assert found.rows[0].notes_per_s == 4.0
    assert found.fastest is not None
    assert found.fastest.riff == "Low"


def test_joins_tell_key_tempo_and_the_jump_of_the_hand() -> None:
    there, back = form_map(exercise()).joins
    assert (there.degree, there.mode, there.tempo_ratio) == ("V", "phrygian", 1.5)
    assert (there.part, there.jump_frets, back.jump_frets) == ("guitar 1", 7, -7)


def test_the_form_in_words() -> None:
    told = form_sentences(form_map(exercise()))
    assert told[0] == "1. Low x2: 1 bar of 4/4, E aeolian, 120 bpm, 4.0 notes a second."
    assert told[3] == (
        "From Low to High: the home note goes to the V, the mode to phrygian, "
        "the tempo goes up to 150% of what it was, the hand of guitar 1 jumps up 7 frets."
    )
    assert told[-2] == "The busiest riff is Low."
    assert told[-1] == "The widest jump is from Low to High: practise that join by itself."


def test_one_riff_has_no_joins() -> None:
    one = replace(exercise(), form=(), riffs=exercise().riffs[:1])
    assert form_map(one).joins == ()
    assert len(form_sentences(form_map(one))) == 1
