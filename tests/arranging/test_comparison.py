"""Two parts side by side: what is the same, what is not, and which bars answer each other."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from tests.arranging.lines import line_part, riff_of, tab_part
from tests.musical import exercises
from trainer.arranging.comparison import PartComparison, compare, comparison_sentences, setting_differences
from trainer.arranging.realise import realise_exercise
from trainer.music.exercise import Exercise
from trainer.music.instrument import instrument
from trainer.music.key import Key
from trainer.music.note import DrumMoment, Hit, Moment, Note
from trainer.music.part import DrumPart, HarmonyPart, TabPart
from trainer.music.problem import ProblemsError
from trainer.music.tempo import Tempo

FOUR_BARS = (
    "E3 F#3 G3 A3 B3 A3 G3 F#3",
    "E3 E3 E3 E3 G3 G3 G3 G3",
    "A3 B3 C4 D4 C4 B3 A3 G3",
    "E3 D3 E3 G3 F#3 E3 D3 E3",
)


def part(*bars: str) -> TabPart:
    return line_part(" | ".join(bars))


def compared(one: TabPart | DrumPart, other: TabPart | DrumPart) -> PartComparison:
    found = compare(one, riff_of(one), other, riff_of(other))
    assert found is not None
    return found


def told(one: TabPart | DrumPart, other: TabPart | DrumPart) -> str:
    return " ".join(comparison_sentences(compared(one, other)))


def test_the_same_but_for_two_beats_of_one_bar() -> None:
    other = (*FOUR_BARS[:3], "E3 D3 E3 G3 B3 E3 D3 G3")
    assert told(part(*FOUR_BARS), part(*other)) == "The same but for beats 3 and 4 of bar 4: another pitch."


def test_the_same_music_is_the_same_note_for_note() -> None:
    assert told(part(*FOUR_BARS), part(*FOUR_BARS)) == "The same, note for note."


def test_a_bar_that_is_put_in_moves_the_others_along() -> None:
    longer = (FOUR_BARS[0], "B3 B3 B3 B3 D4 D4 B3 B3", *FOUR_BARS[1:])
    found = compared(part(*FOUR_BARS), part(*longer))
    assert [(pair.one, pair.other) for pair in found.pairs] == [(1, 1), (None, 2), (2, 3), (3, 4), (4, 5)]
    assert found.same == 4
    assert "Bar 2 is only in the second." in comparison_sentences(found)
    assert "The same: bars 1 to 4 (in the second: bars 1, 3, 4 and 5)." in comparison_sentences(found)


def test_a_part_a_tone_lower_is_the_same_transposed() -> None:
    high = part(*FOUR_BARS)
    low = replace(high, instrument=instrument(("D2", "G2", "C3", "F3", "A3", "D4")))
    assert told(high, low) == "The second lies 2 semitones lower throughout. The same, note for note."
    assert told(low, high) == "The second lies 2 semitones higher throughout. The same, note for note."


MOMENT = Moment(Fraction(0), (Note(5, 7),))


@pytest.mark.parametrize(
    ("other", "kinds"),
    [
        (replace(MOMENT, offset=Fraction(1, 8)), ("rhythm",)),
        (replace(MOMENT, notes=(Note(5, 9),)), ("pitch",)),
        (replace(MOMENT, notes=(Note(5, 7, bend=9),)), ("pitch",)),
        (replace(MOMENT, mute=True), ("articulation",)),
        (replace(MOMENT, notes=(Note(5, 7, vibrato=True),)), ("articulation",)),
        (replace(MOMENT, notes=(Note(4, 2),)), ("place",)),
        (replace(MOMENT, pick="u"), ("strokes",)),
        (replace(MOMENT, notes=(Note(5, 7, finger="3"),)), ("strokes",)),
        (replace(MOMENT, notes=(Note(4, 2, vibrato=True),), pick="d"), ("articulation", "place", "strokes")),
    ],
)
def test_each_kind_of_difference_is_named(other: Moment, kinds: tuple[str, ...]) -> None:
    rest = Moment(Fraction(1, 2), (Note(6, 0),))
    found = compared(tab_part((MOMENT, rest)), tab_part((other, rest)))
    [beat] = found.pairs[0].beats
    assert (beat.beat, beat.kinds) == (1, kinds)


def test_drums_differ_in_their_pieces() -> None:
    def drums(*pieces: str) -> DrumPart:
        return DrumPart(
            "drums", (tuple(DrumMoment(Fraction(n, 4), (Hit(piece),)) for n, piece in enumerate(pieces)),) * 2
        )

    assert told(drums("kick", "snare", "kick", "snare"), drums("kick", "snare", "kick", "crash")).endswith(
        "Beat 4 of bar 1: another drum. Beat 4 of bar 2: another drum."
    )
    assert compare(drums("kick"), riff_of(drums("kick")), part("E3 E3"), riff_of(part("E3 E3"))) is None


def test_bars_that_differ_alike_are_told_together() -> None:
    third = part(*("G3 A3 B3 C4 D4 C4 B3 A3",) * 4)
    assert told(part(*FOUR_BARS), third) == (
        "No bar is the same. The rhythm is the same throughout. All of bars 1 to 4: another pitch."
    )


def test_keys_and_tempos_are_told() -> None:
    one = riff_of(part(*FOUR_BARS))
    other = replace(one, key=Key.parse("D aeolian"), tempo=Tempo(one.tempo.start, Fraction(200)))
    assert [(each.what, each.one, each.other) for each in setting_differences(one, other)] == [
        ("key", "E aeolian", "D aeolian"),
        ("target", "120 bpm", "200 bpm"),
    ]


@given(exercises())
@settings(max_examples=30, deadline=None)
def test_any_part_is_the_same_as_itself_and_every_bar_has_its_place(exercise: Exercise) -> None:
    try:
        sounding = realise_exercise(exercise)
    except ProblemsError:
        return
    for riff in sounding.riffs:
        for mine in riff.parts:
            for other in riff.parts:
                assert not isinstance(mine, HarmonyPart)
                assert not isinstance(other, HarmonyPart)
                found = compare(mine, riff, other, riff)
                if found is None:
                    continue
                assert [pair.one for pair in found.pairs if pair.one] == list(range(1, len(mine.bars) + 1))
                assert [pair.other for pair in found.pairs if pair.other] == list(range(1, len(other.bars) + 1))
                if mine is other:
                    assert found.same == len(found.pairs)
                    assert not found.semitones
