"""Plain tab as people type it: the same riff in many habits is one exercise, and what is open is listed."""

import re
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.music.meter import Meter
from trainer.music.note import Attack, Note, Touch
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.notation.plain_exercise import Guess, Wishes, read_plain
from trainer.notation.plain_tab import frets_of
from trainer.notation.read import read
from trainer.notation.write import write

EMPTY = "-" * 17

NAMES_AND_A_DASH = """\
Hi, this is the riff. Keep it tight!

e|-----------------|-----------------|
B|-----------------|-----------------|
G|-----------------|-----------------|
D|-----------------|-----5h7---7b9~--|
A|-------------2-3-|-7-7-----x-------|
E|-0-000-000-0-----|-----------------|
   PM--------

cheers
"""

NO_NAMES_NO_DASH = """\
 P.M. - - -
|----------------|----------------|
|----------------|----------------|
|----------------|----------------|
|----------------|----5h7---7b9~--|
|------------2-3-|7-7-----x-------|
|0-000-000-0-----|----------------|
"""

WIDE_AND_PRINTED = """\
    PM--------------------
E4 \u2013----------------------------------|----------------------------------\u2013|
B3 -----------------------------------|-----------------------------------|
G3 -----------------------------------|-----------------------------------|
D3 -----------------------------------|-----------5---h7------7b9~--------|
A2 ---------------------------2---3---|---7---7-----------X---------------|
E2 ---0---0-0-0---0-0-0---0-----------|-----------------------------------|
"""

COUNTS_UNDER_IT = """\
E |-----------------------------------|------------------------|
B |-----------------------------------|------------------------|
G |-----------------------------------|------------------------|
D |-----------------------------------|---------5-h7----7b9vvv-|
A |---------------------------2----3--|--7--7--------X---------|
E |--0---0--0--0---0--0--0--0---------|------------------------|
     1   &  a  2   &  a  3  & 4    &     1  &   2  & 3  &  4 &
     PM--------------------
"""

LETTERS_OVER_IT = """\
[main riff]
  e s s e s s e e e e   e e e e  e e
|---------------------|-----------------|
|---------------------|-----------------|
|---------------------|-----------------|
|---------------------|-----5h7----7b9--|
|-----------------2-3-|-7-7------x------|
|-0-0-0-0-0-0-0-0-----|-----------------|
  PM-----------
"""


def part_of(text: str, wishes: Wishes | None = None) -> TabPart:
    exercise, _ = read_plain(text, wishes or Wishes())
    part = exercise.riffs[0].parts[0]
    assert isinstance(part, TabPart)
    return part


def played(text: str) -> list[list[tuple[str, str]]]:
    """For each bar where each stroke lies and what it is, as a player would say it."""
    return [
        [
            (
                str(m.offset),
                " ".join(f"{n.string}:{n.attack.value}{'x' if n.touch is Touch.DEAD else n.fret}" for n in m.notes),
            )
            for m in bar
        ]
        for bar in part_of(text).bars
    ]


def test_the_habits_of_five_people_make_one_exercise() -> None:
    assert played(NAMES_AND_A_DASH)[0][:4] == [("0", "6:0"), ("1/8", "6:0"), ("3/16", "6:0"), ("1/4", "6:0")]
    assert [moment.mute for moment in part_of(NAMES_AND_A_DASH).bars[0]] == [True] * 7 + [False] * 3
    for text in (NO_NAMES_NO_DASH, WIDE_AND_PRINTED, COUNTS_UNDER_IT):
        assert played(text) == played(NAMES_AND_A_DASH)
    assert read_plain(NO_NAMES_NO_DASH, Wishes())[0] == read_plain(NAMES_AND_A_DASH, Wishes())[0]
    assert played(LETTERS_OVER_IT) == played(NAMES_AND_A_DASH)


def test_what_was_read_can_be_written_and_read() -> None:
    for text in (NAMES_AND_A_DASH, NO_NAMES_NO_DASH, WIDE_AND_PRINTED, COUNTS_UNDER_IT, LETTERS_OVER_IT):
        exercise, _ = read_plain(text, Wishes())
        assert read(write(exercise)) == exercise


def test_guesses_are_listed_with_their_line() -> None:
    _, guesses = read_plain(NAMES_AND_A_DASH, Wishes())
    assert Guess(3, "no meter is written: read as 4/4") in guesses
    assert any("no counts are written: by its spacing 1 character is 1/16" in str(guess) for guess in guesses)
    _, sure = read_plain(COUNTS_UNDER_IT, Wishes(meter=Meter(4, 4)))
    assert sure == ()


def system(*strings: str, count: int = 6) -> str:
    empty = re.sub(r"[^|]", "-", strings[0])
    return "\n".join([*strings, *[empty] * (count - len(strings))])


def first_notes(text: str) -> list[Note]:
    return [note for bar in part_of(text).bars for moment in bar for note in moment.notes]


def test_marks_of_plain_tab() -> None:
    notes = first_notes(system("|-5h7p5-7/9\\7-7b9r7-t12-x--<12>-|"))
    assert [f"{note.attack.value}{note.fret}" for note in notes[:6]] == ["5", "h7", "p5", "7", "/9", "\\7"]
    assert (notes[6].bend, notes[6].release) == (9, 7)
    assert notes[7].attack is Attack.TAP
    assert [note.touch for note in notes[8:]] == [Touch.DEAD, Touch.HARMONIC]


@pytest.mark.parametrize(
    ("digits", "frets"),
    [
        ("7", ("7",)),
        ("12", ("12",)),
        ("57", ("5", "7")),
        ("1012", ("10", "12")),
        ("000", ("0",) * 3),
        ("25", ("2", "5")),
    ],
)
def test_runs_of_digits(digits: str, frets: tuple[str, ...]) -> None:
    assert frets_of(digits) == frets


def test_a_chord_of_one_and_two_digits_is_struck_together() -> None:
    text = "|-10------|\n|--9------|\n|-10--9---|\n|---------|\n|---------|\n|---------|"
    assert [len(moment.notes) for bar in part_of(text).bars for moment in bar] == [3, 1]


def test_a_note_in_brackets_that_repeats_the_fret_is_held() -> None:
    exercise, guesses = read_plain(system("|-7-------|-(7)-5---|"), Wishes())
    assert [len(bar) for bar in exercise.riffs[0].parts[0].bars] == [1, 1]
    assert any("held on" in guess.what for guess in guesses)


def test_basses_and_seven_strings_and_dropped_tunings() -> None:
    bass, _ = read_plain(system("|-0-0-0-0-|", count=4), Wishes())
    assert bass.part_names == ("bass",)
    assert len(part_of(system("|-0-0-0-0-|", count=7)).instrument.tuning) == 7
    dropped = "\n".join(f"{name}|-0-0-0-0-|" for name in "eBGDAD")
    assert str(part_of(dropped).instrument.tuning[0]) == "D2"


def test_the_thickest_string_on_top_is_turned_over() -> None:
    for names in ("EADGBE", "BEADGBe"):
        frets = "0" + "-" * (len(names) - 1)
        text = "\n".join(f"{name}|-{fret}-------|" for name, fret in zip(names, frets, strict=True))
        exercise, guesses = read_plain(text, Wishes())
        assert exercise.parts == () or len(names) == 7
        assert first_notes(text)[0].string == len(names)
        assert any("thickest stands on top" in guess.what for guess in guesses)
    usual = "\n".join(f"{name}|-{fret}-------|" for name, fret in zip("EBGDAE", "0-----", strict=True))
    assert first_notes(usual)[0].string == 1


def test_repeats_after_the_last_bar_line() -> None:
    assert len(part_of(system("|-0-2-3-5-| x3")).bars) == 3


def test_twelve_eight_is_seen_in_its_counts() -> None:
    counts = "  1 2 3 4 5 6 7 8 9 10 11 12\n"
    text = counts + system("|-0-0-0-0-0-0-0-0-0-0--0--0--|")
    exercise, _ = read_plain(text, Wishes())
    assert exercise.meter == Meter(12, 8)
    assert len(exercise.riffs[0].parts[0].bars[0]) == 12


@pytest.mark.parametrize("text", ["", "no tab here", "a - b - c - d", "|---|", "+++\n---\n---\n---\n---\n"])
def test_a_text_without_tab_is_told(text: str) -> None:
    with pytest.raises(ProblemsError, match="no tab was found"):
        read_plain(text, Wishes())


@settings(max_examples=150, deadline=None)
@given(st.lists(st.text("-0123579hpb/\\~x()|tr<>* ", min_size=4, max_size=60), min_size=4, max_size=9), st.booleans())
def test_any_lines_are_read_or_told_quickly(lines: list[str], named: bool) -> None:
    text = "\n".join(("E" if named else "") + "|-----" + line + "----|" for line in lines)
    before = time.process_time()
    try:
        exercise, _ = read_plain(text, Wishes())
    except ProblemsError:
        return
    finally:
        assert time.process_time() - before < 1
    assert read(write(exercise)) == exercise


@pytest.mark.parametrize("body", ["-" * 100_000, "-1" * 50_000, "-(" * 50_000, "P.M. " + " -" * 50_000 + "x"])
def test_a_line_without_an_end_is_told(body: str) -> None:
    with pytest.raises(ProblemsError, match=r"characters|no tab"):
        read_plain("\n".join([f"|{body}|"] * 6), Wishes())
