from fractions import Fraction

from tests.arranging.lines import harmony, line_part, riff_of, tab_part
from trainer.arranging.demand import demand
from trainer.arranging.demand_words import (
    HOUSE_RULES,
    change_sentences,
    demand_sentences,
    endurance_sentences,
    start_sentence,
)
from trainer.arranging.realise import realise_told
from trainer.music.instrument import BASS, instrument
from trainer.music.note import Moment, Note
from trainer.music.pitch import Pitch


def test_a_demand_is_told_with_its_place_and_ceilings() -> None:
    part = tab_part(*[tuple(Moment(Fraction(n, 16), (Note(6, 0),)) for n in range(16))] * 2)
    riff = riff_of(part, bpm=180)
    assert demand_sentences(demand(part, riff), riff) == (
        "At 180 bpm, hardest in bar 1, 1: the picking hand makes 12.0 strokes a second, those in the air included, "
        "90% of the limit.",
        "Picking hand: the limit of 13.4 strokes a second is reached at 201 bpm.",
        "Picking hand: the limit for two strokes in a row is reached at 255 bpm.",
        "All downstrokes: limit about 100 bpm.",
        "There is no rest in it: looped, the hands never stop. Leave a bar out before the arm tires.",
        "Begin the climb at 90 bpm, the exercise's own start.",
        HOUSE_RULES,
    )


def test_what_is_beyond_the_hands_is_said() -> None:
    part = tab_part((), (Moment(Fraction(1, 8), (Note(5, 11), Note(6, 1))),))
    riff = riff_of(part)
    told = demand_sentences(demand(part, riff), riff)
    assert "That is beyond the limits set for the hands." in told
    assert "Practise bar 2 alone." in told
    assert told[-2] == "In bar 2, 1 &, no hand stretches from fret 1 to fret 11 here."
    assert any(text.startswith("The fingers span") and text.endswith("at any tempo.") for text in told)


def test_silence_asks_nothing() -> None:
    part = tab_part((Moment(Fraction(0), rest=True),))
    assert demand_sentences(demand(part, riff_of(part)), riff_of(part)) == ("guitar 1 asks nothing of the hands.",)


def test_changed_intervals_are_told_with_their_reason() -> None:
    bass = line_part("F#1 A1", "bass", instrument(BASS))
    riff = riff_of(line_part("E4 A4"), bass, harmony("third above", avoid=("bass",)))
    assert change_sentences(realise_told(riff).changes, riff) == (
        "guitar 2 plays A4 for G4 in bar 1, 1: G4 would clash.",
    )
    low = riff_of(line_part("E4 D5"), harmony("third above", within=(Pitch.parse("E3"), Pitch.parse("E5"))))
    assert change_sentences(realise_told(low).changes, low) == (
        "guitar 2 plays F#4 for F#5 in bar 1, 1 &, to stay in its range.",
    )


def test_a_start_near_the_limit_is_lowered_with_its_reason() -> None:
    part = tab_part(*[tuple(Moment(Fraction(n, 16), (Note(6, 0),)) for n in range(16))] * 2)
    riff = riff_of(part, bpm=400)  # it starts at 200
    found = demand(part, riff)
    assert start_sentence(found, riff) == (
        "Begin the climb at 120 bpm: the exercise's own start of 200 is already 100% of the first limit."
    )


def test_the_longest_stretch_without_a_rest_is_told() -> None:
    bar = tuple(Moment(Fraction(n, 8), (Note(6, 3),)) for n in range(8))
    rest = (Moment(Fraction(0), rest=True),)
    part = tab_part(bar, bar, bar, rest, bar)
    riff = riff_of(part)
    assert endurance_sentences(demand(part, riff), riff) == ("The longest stretch without a rest is three bars.",)
