"""What the sentences say: what to fix first, where, and what to do next."""

from dataclasses import replace

import pytest

from tests.listening.laid import first, laid, shifted, told, without
from tests.listening.plucked import gallop, line
from trainer.listening.faults import Fault, by_weight
from trainer.listening.judging import Judgement
from trainer.listening.performance import Extra, PlayedStroke
from trainer.listening.written import WrittenPart, WrittenStroke
from trainer.practice.verdict import Outcome, Reason

RIFF = (40, 43, 45, 47, 50, 52, 50, 47, 45, 43, 47, 50, 52, 55, 52, 50) * 2
STANDARD = (64, 59, 55, 50, 45, 40)
PART = line(RIFF, 120)


def on_strings(string: int) -> WrittenPart:
    """The part with every stroke on one string of a guitar in standard tuning."""
    strokes = tuple(replace(stroke, strings=(string,)) for stroke in PART.strokes)
    return replace(PART, strokes=strokes, opens=STANDARD)


def sentences(judgement: Judgement) -> list[str]:
    return [reason.sentence for reason in judgement.verdict.reasons]


def test_one_missed_stroke_is_named() -> None:
    assert first(without(laid(PART), 13)) == "Bar 2 lost its up stroke on 3 &."


def test_missed_strokes_are_told_by_the_bar_that_lost_most() -> None:
    performance = without(laid(PART), 3, 17, 19, 21)
    assert first(performance) == (
        "Bar 3 lost three notes, the first (up stroke) on 1 &, and one more is missing elsewhere."
    )


def test_a_bar_that_was_left_out_is_not_called_missed() -> None:
    judgement = told(without(laid(PART), *range(8, 16)))
    assert sentences(judgement) == ["Bar 2 was not heard; the verdict is on what was played."]
    assert judgement.action is not None
    assert judgement.action.sentence == "Next: loop bars 2 to 3 at 108 bpm, click on eighths."


@pytest.mark.parametrize(
    ("string", "semitones", "words"),
    [
        (6, -1, "one fret too low"),
        (6, 2, "two frets too high"),
        (6, 5, "on the next string (a fourth too high)"),
        (3, 4, "on the next string (a major third too high)"),
        (2, -4, "on the next string (a major third too low)"),
        (3, 5, "a fourth too high"),
        (5, 4, "four frets too high"),
    ],
)
def test_a_wrong_position_names_itself_if_it_is_a_plain_one(string: int, semitones: int, words: str) -> None:
    performance = shifted(laid(on_strings(string)), semitones, 9)
    assert first(performance) == f"Bar 2, count 1 &: the up stroke is {words}."


def test_a_hand_that_lies_wrong_is_one_sentence() -> None:
    performance = shifted(laid(on_strings(6)), -1, *range(8, 14), 20)
    assert sentences(told(performance)) == [
        "From bar 2, count 1 (down stroke) on, six notes are one fret too low: look where the hand lies, "
        "and one more note is wrong."
    ]


def test_the_other_guitars_line_is_recognised() -> None:
    third = tuple(replace(stroke, pitches=(stroke.pitches[0] + 3,)) for stroke in PART.strokes)
    performance = laid(replace(PART, others=(("guitar 2", third),)))
    assert first(shifted(performance, 3, 9)) == "Bar 2, count 1 &: the up stroke is guitar 2's line."
    assert "five notes are in guitar 2's line" in first(shifted(performance, 3, *range(8, 13)))


def test_a_chord_that_lacks_a_string_says_which() -> None:
    chords = line([(40, 47, 52)] * 8, 120, grid=1)
    performance = laid(chords)
    strokes = list(performance.strokes)
    strokes[5] = replace(strokes[5], missing=(47,))
    assert first(replace(performance, strokes=tuple(strokes))) == ("Bar 2, count 2: the up stroke is without its B 2.")


def test_three_sentences_at_most_and_what_to_fix_first_stands_first() -> None:
    performance = laid(PART, lambda index, _: 48.0 if index == 29 else -25.0 if index % 8 == 3 else 0.0)
    performance = shifted(without(performance, 5), -2, 11)
    extra = Extra(2.0, 52, PART.strokes[18])
    judgement = told(replace(performance, extras=(extra,)))
    kinds = [fault.kind for fault in judgement.faults]
    assert kinds[:3] == ["missed", "wrong", "stray"]
    assert kinds[-1] == "extra"
    assert len(judgement.verdict.reasons) == 3
    assert all(reason.bar and reason.count and reason.stroke for reason in judgement.verdict.reasons)


@pytest.mark.parametrize(("certain", "outcome"), [(True, Outcome.MISSED), (False, Outcome.CLEAN)])
def test_an_extra_note_is_possible_in_sound_and_certain_in_midi(certain: bool, outcome: Outcome) -> None:
    extra = Extra(2.0, 54, PART.strokes[10], doubled=False, certain=certain)
    judgement = told(replace(laid(PART), extras=(extra,)))
    begin = "An" if certain else "Possibly an"
    assert sentences(judgement) == [f"{begin} extra note (F sharp 3) after the down stroke at bar 2, count 2."]
    assert judgement.verdict.outcome is outcome


def test_a_double_is_called_one() -> None:
    extra = Extra(2.0, PART.strokes[10].pitches[0], PART.strokes[10], doubled=True)
    assert sentences(told(replace(laid(PART), extras=(extra,)))) == [
        "Possibly a double of the down stroke at bar 2, count 2."
    ]


def test_a_stray_stroke_of_a_place_that_is_off_is_told_beside_it() -> None:
    written = gallop(120, bars=4)
    performance = laid(written, lambda index, s: 75.0 if index == 14 else 22.0 if s.figure.is_second else 0.0)
    kinds = [fault.kind for fault in told(performance).faults]
    assert kinds == ["place", "stray"]


def test_a_stray_stroke_in_a_flattened_gallop_is_told_beside_it() -> None:
    written = gallop(120, bars=4)
    off = {"first sixteenth": -36.0, "second sixteenth": -18.0}
    performance = laid(written, lambda index, s: off.get(s.figure.value, 0.0) + (60.0 if index == 18 else 0.0))
    judgement = told(performance)
    assert [fault.kind for fault in judgement.faults] == ["gallop", "stray"]
    assert "Bar 2, count 3: the eighth is 5" in sentences(judgement)[1]


FLAT_MS = {"first sixteenth": -53.0, "second sixteenth": -26.5}
"""A gallop at 120 bpm whose long to short is 1.3."""


@pytest.mark.parametrize("bar", [1, 2, 3, 5])
def test_a_gallop_that_flattens_in_one_bar_and_recovers_is_named_with_its_bar(bar: int) -> None:
    written = gallop(120, bars=5)
    performance = laid(written, lambda k, s: FLAT_MS.get(s.figure.value, 0.0) if s.bar == bar else k % 3 - 1.0)
    judgement = told(performance)
    assert [fault.kind for fault in judgement.faults] == ["gallop"]
    assert judgement.faults[0].reason.bar == bar
    assert judgement.faults[0].brief == f"bar {bar}: gallop flat (1.3, want 2.0)"
    assert judgement.action is not None and judgement.action.first_bar == bar


def test_bars_between_which_the_gallop_recovers_are_counted() -> None:
    written = gallop(120, bars=6)
    performance = laid(written, lambda k, s: FLAT_MS.get(s.figure.value, 0.0) if s.bar in (2, 5) else k % 3 - 1.0)
    assert "flattens in bar 2, and in one more bar:" in sentences(told(performance))[0]


def test_four_flattened_gallops_outweigh_one_late_stroke() -> None:
    written = gallop(120, bars=4)

    def late(index: int, stroke: WrittenStroke) -> float:
        return FLAT_MS.get(stroke.figure.value, 0.0) if stroke.bar == 2 else 70.0 if index == 38 else index % 3 - 1.0

    faults = told(laid(written, late)).faults
    assert [(fault.kind, fault.strokes) for fault in faults] == [("gallop", 8), ("stray", 1)]
    assert faults[1].brief == "bar 4, 1 a: 72 ms late"


def test_what_is_no_reason_to_fail_comes_last_whatever_its_weight() -> None:
    light = Fault("missed", Reason("One."), (1, 1), True, strokes=1)
    heavy = Fault("drift", Reason("Two."), (1, 4), False, strokes=30)
    assert by_weight([heavy, light]) == (light, heavy)


def test_what_to_do_next() -> None:
    clean = told(laid(PART)).action
    assert clean is not None
    assert clean.sentence == "Next: all 4 bars at 124 bpm, click on beats."
    missed = told(without(laid(gallop(120, bars=4)), 13)).action
    assert missed is not None
    assert missed.sentence == "Next: loop bars 2 to 3 at 108 bpm, click on gallop."


def test_a_pass_is_judged_for_the_strokes_that_were_played() -> None:
    performance = laid(PART)
    strokes = [PlayedStroke(item.stroke, shift=None) if item.stroke.bar == 1 else item for item in performance.strokes]
    judgement = told(replace(performance, strokes=tuple(strokes)))
    assert sentences(judgement) == ["Bar 1 was not heard; the verdict is on what was played."]
