"""A message names the true cause of a mistake, at its place, once."""

import time

import pytest

from trainer.music.problem import ProblemsError
from trainer.notation.cell import CellError, read_cell
from trainer.notation.head import read_head
from trainer.notation.read import MOST_FORM_BARS, read
from trainer.notation.report import MOST

BAR = "count | 1 2 3 4 |\n5     | 3 5 7 r |\n"
SOUND = f"## Low\n\n```tab guitar 1\n{BAR}```\n"


def told(front: str = "", body: str = SOUND, title: str = 'title = "Small Hours"\n') -> list[str]:
    with pytest.raises(ProblemsError) as caught:
        read(f"+++\n{title}{front}\n+++\n\n{body}", "a.md")
    return [str(problem) for problem in caught.value.problems]


def rows(*lines: str, part: str = "guitar 1") -> str:
    return f"## Low\n\n```tab {part}\n" + "\n".join(lines) + "\n```\n"


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("7h8", "second note under its own count"),
        ("5h7p5", "second note under its own count"),
        ("7/8", "second note under its own count"),
        ("(7)", "Write 7 where it is struck"),
        ("12*", "Write <12> for a natural harmonic"),
        ("[12]", "Write <12> for a natural harmonic"),
        ("7~~", "one ~ for vibrato: 7~"),
        ("7v", "one ~ for vibrato: 7~"),
        ("\u2013", "use the plain hyphen"),
        ("7\u20138", "use the plain hyphen"),
        ("07", "no leading zero: write 7"),
        ("X", "small x"),
        ("O", "digit 0"),
        ("H7", "Write the mark small"),
        ("7h", "before the fret that it leads to"),
        ("7b", "Name the fret whose pitch the bend reaches"),
        ("7bfull", "Name the fret whose pitch the bend reaches"),
        ("7s9", "/9 for a slide up to 9"),
        ("7>", "a row of their own, accent"),
        ("7b20", "bends by 13 semitones"),
    ],
)
@pytest.mark.parametrize("gap", [" ", "  "])
def test_a_usual_way_to_write_a_note_is_told_before_where_it_stands(cell: str, words: str, gap: str) -> None:
    counts = gap.join("1&2&3&4&")
    told_once = told(body=rows(f"count | {counts} |", f"5     |{gap[1:]}{cell}{' ' * len(counts)}|"))
    assert len(told_once) == 1 and words in told_once[0]
    with pytest.raises(CellError):
        read_cell(cell, 5, 24)


def test_the_place_is_that_of_the_wrong_one_of_two_equal_cells() -> None:
    lines = told(body=rows("count | 1 2  3  4  |", "5     | 5 h7 p5 p5 |"))
    assert lines[0].startswith('a.md:10:17: "p5": a pull-off from fret 5 to fret 5')


def test_an_error_of_the_layout_has_no_echo() -> None:
    lines = told(body=rows("count  | 1 & 2 3 4 |", "5      |  12 h9 h9  |", "accent | > > > > > |"))
    assert len(lines) == 1 or all("12" in line or "runs over" in line for line in lines)


@pytest.mark.parametrize(
    ("front", "place", "words"),
    [
        ('key = "F\u266f minor"', "3:1", 'Did you mean "F# minor"?'),
        ('key = "Em"', "3:1", 'Did you mean "E minor"?'),
        ('key = "E natural minor"', "3:1", 'Did you mean "E minor"?'),
        ('key = "Bb dorain"', "3:1", 'Did you mean "Bb dorian"?'),
        ('form = ["Low", "Low x 2"]', "3:16", 'Did you mean "Low x2"?'),
        ('form = [\n  "Low",  # once\n  "Lwo",\n]', "5:3", 'Did you mean "Low"?'),
        ('form = ["Low", "Low x100"]', "3:16", "repeats 100 times"),
        ("key = \u201cE minor\u201d", "3:7", "Write straight quotes"),
        ("[parts.guitar 1]\ncapo = 2", "3:8", 'Write [parts."guitar 1"]'),
        ('tuning = "E4 B3 G3 D3 A2 E2"', "3:1", 'Write "E2 A2 D3 G3 B3 E4"'),
        ("tempo = " + "9" * 5000, "3", "too long"),
        ("tempo = 0x" + "f" * 5000, "3", '"tempo" cannot be'),
    ],
)
def test_front_matter_is_told_at_its_place_with_the_right_word(front: str, place: str, words: str) -> None:
    lines = told(front)
    assert len(lines) == 1
    assert lines[0].startswith(f"a.md:{place}:") and words in lines[0]


@pytest.mark.parametrize(
    ("interval", "meant"),
    [
        ("perfect third above", "third above"),
        ("third up", "third above"),
        ("3rd below", "third below"),
        ("thrid below", "third below"),
        ("lower sixth", "sixth below"),
        ("minor third abvoe", "minor third above"),
    ],
)
def test_the_suggested_interval_can_be_read_and_points_the_right_way(interval: str, meant: str) -> None:
    block = f'\n```harmony guitar 2\nfollows = "guitar 1"\ninterval = "{interval}"\n```\n'
    lines = told(body=SOUND + block)
    assert len(lines) == 1 and f'Did you mean "{meant}"?' in lines[0]


def test_an_exception_is_told_at_its_own_entry() -> None:
    entries = (
        '{ bar = 1, count = "2", interval = "third below" },\n  { bar = 9, count = "2", interval = "third below" },'
    )
    block = f'```harmony guitar 2\nfollows = "guitar 1"\ninterval = "third above"\nexcept = [\n  {entries}\n]\n```\n'
    assert told(body=SOUND + "\n" + block) == ["a.md:18:3: an exception in bar 9 (allowed: bars 1 to 1)."]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("##Low\n\n" + SOUND, "a.md:6:3: a riff's heading lacks the space after ##"),
        (rows("e|--0--|", "B|--1--|", "G|--0--|", "D|--2--|", "A|--3--|", "E|-----|"), "this is plain tab"),
        (rows("count | 1 2 3 4 1 2 3 4 |", *(f"{s} | 0 | 0 |" for s in range(1, 6))), "the count row has 1 bar"),
        (rows(*BAR.split("\n")[:2], "kick  | x   x   |"), 'row "kick" in a tab of strings'),
        (
            SOUND + "\n" + SOUND.replace("guitar 1", "Guitar 1").replace("Low", "High"),
            'part "Guitar 1" here, "guitar 1"',
        ),
        (rows(*BAR.split("\n")[:2], part="base"), 'Did you mean "bass"?'),
        (rows(*BAR.split("\n")[:2], part="gitar 2"), 'Did you mean "guitar 2"?'),
        (
            rows("count | 4 | 1 2 3 4 |", "5     | 3 | 3 5 7 r |"),
            "A pickup is a bar of its own meter: write 1/4 over it",
        ),
    ],
)
def test_one_mistake_is_one_sentence(body: str, words: str) -> None:
    lines = told(body=body)
    assert len(lines) == 1 and words in lines[0]


def test_front_matter_without_its_second_line_is_told_as_that() -> None:
    with pytest.raises(ProblemsError, match=r"a\.md:1:1: the front matter that begins here is not closed"):
        read('+++\ntitle = "A"\n\n' + SOUND, "a.md")


# ---- What a file may ask for is bounded, and wrong files are told quickly.


def many_tables(number: int) -> str:
    return "\n".join(f'[parts."p{i}"]\nx = 1' for i in range(number))


@pytest.mark.parametrize(
    "front",
    [
        many_tables(2_900),
        ".".join(["a"] * 30_000) + " = 1",
        "[" + ".".join(["a"] * 30_000) + "]",
        "\n".join(f"key{i} = 1" for i in range(5_000)),
        "\n".join(f"key{i} = 1" for i in range(50_000)),
        "form = [" + ", ".join(f'"nothing {i}"' for i in range(4_000)) + "]",
        f'form = ["{"x" * 50_000}"]',
        "x" + " " * 60_000 + "y",
        "a" * 60_000,
        "key = [" * 9_000,
    ],
    ids=["tables", "dotted", "header", "keys", "too many keys", "form", "long step", "spaces", "word", "nested"],
)
def test_front_matter_of_any_size_is_told_within_a_second(front: str) -> None:
    before = time.process_time()
    lines = told(front)
    assert time.process_time() - before < 1
    assert 1 <= len(lines) <= MOST


def test_a_title_is_not_a_book() -> None:
    assert (
        told(title=f'title = "{"x" * 50_000}"\n')[0]
        == 'a.md:2:1: "title" has 50,000 characters (allowed: at most 300).'
    )


def test_many_exceptions_are_told_quickly() -> None:
    entries = ", ".join('{ bar = 1, count = "1", interval = "thing" }' for _ in range(1_200))
    block = f'```harmony guitar 2\nfollows = "guitar 1"\ninterval = "third above"\nexcept = [{entries}]\n```\n'
    before = time.process_time()
    assert len(told(body=SOUND + "\n" + block)) == MOST
    assert time.process_time() - before < 1


def test_a_small_file_cannot_ask_for_a_day_of_music() -> None:
    system = "count | 1 2 3 4 | x64\n5     | 3 5 7 r |\n"
    body = "## Low\n\n```tab guitar 1\n" + "\n".join([system] * 14) + "```\n"
    before = time.process_time()
    lines = told('form = ["Low x99"]', body)
    assert time.process_time() - before < 1
    assert lines == [
        f"a.md:3:1: the form has 88,704 bars, repeats written out (allowed: at most {MOST_FORM_BARS:,}). "
        "Play its riffs fewer times, or divide it into several exercises."
    ]


def test_a_heading_of_many_spaces_is_listed_at_once() -> None:
    text = '+++\ntitle = "A"\n+++\n\n## a' + " " * 100_000 + "x\n## b # # #" + "#" * 100_000 + "\n## \n##c\n"
    before = time.process_time()
    head = read_head(text, "a.md", "a")
    assert time.process_time() - before < 0.5
    assert head and head.riffs == ("a x", "b # #")
