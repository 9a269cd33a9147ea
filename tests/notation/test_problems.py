"""Every mistake a player can make in a file: a sentence with its place, what is allowed, and the nearest right word."""

from dataclasses import asdict

import pytest

from tests.notation.iron import IRON
from trainer.music.exercise import LADDER_BOUNDS
from trainer.music.problem import Problem, ProblemsError
from trainer.notation.read import read
from trainer.practice.ladder_rules import Rise, rules_for

# What is replaced by what; the piece at whose line and column the problem stands; words of the message.
CASES = {
    "a note under no count": (
        "6     | 0 0 0 0 0 0 0 0 3 2     ",
        "6     |0                        ",
        (25, 8),
        "stands under no count",
    ),
    "a note over two counts": ("6     | 0 0 0", "6     | 0  8b9", (25, 12), r"runs over two counts \(& and a\)"),
    "a bar too long": ("3 & a 4 & a | 1", "3 & a 4 & 5 | 1", (23, 31), "count 5 in a bar of 4/4: the bar is longer"),
    "a bar too short": (
        "2 & a 3 & 4 & |\n5 ",
        "2 & a 3 &     |\n5 ",
        (23, 50),
        "count 4 is missing: the bar is too short for 4/4",
    ),
    "a mark that is not a count": (
        "count | 1 & a 2",
        "count | 1 & o 2",
        (23, 13),
        '"o" is not a count .allowed: a beat',
    ),
    "counts out of order": ("count | 1 & a 2", "count | 1 a & 2", (23, 13), "comes too late"),
    "parts that disagree on bars": ("| % |\nsnare", "|\nsnare", (31, 1), "the count row has 1 bar, every other row 2"),
    "an unknown key": ('key = "E aeolian"', 'key = "E aeolean"', (3, 1), 'Did you mean "E aeolian"'),
    "an unknown mode": ('"B locrian"', '"B lochrian"', (39, 1), 'Did you mean "B locrian"'),
    "a key that is no key": ("meter =", "metre =", (4, 1), 'Did you mean "meter"'),
    "an unknown part": ('follows = "guitar 1"', 'follows = "guitar one"', (50, 1), 'Did you mean "guitar 1"'),
    "a technique that is none": ("8b10~ r", "8q10~ r", (46, 18), '"8q10~" is not a note'),
    "two notes in one cell": ("1     | 7 8 10 7  ", "1     | 7 8 7h8 ", (45, 13), "under its own count"),
    "an unknown patch": ('"picked bass"', '"pickd bass"', (13, 1), 'Did you mean "picked bass"'),
    "an unknown interval": ('"third below"', '"thrid below"', (51, 1), 'Did you mean "third below"'),
    "a fret beyond the neck": ("| 7 8 10 7", "| 7 8 25 7", (45, 13), "fret 25 is beyond the neck .allowed: 0 to 24"),
    "a bend downward": ("8b10~", "8b7~ ", (46, 18), "not above fret 8"),
    "a string the tuning has not": (
        "\n5     |                     2 3",
        "\n7     |                     2 3",
        (24, 1),
        "string 7 on a tuning of 6",
    ),
    "a tempo of nothing": ("target = 168", "target = 0", (5, 23), "cannot be 0 .allowed: 20 to 400"),
    "a tempo of ten thousand": ("target = 168", "target = 10000", (5, 23), "cannot be 10000"),
    "a repeat of a million": ("3 & 4 & |\n5 ", "3 & 4 & | x1000000\n5 ", (23, 57), "cannot be played 1000000 times"),
    "a harmony that follows itself": ('follows = "guitar 1"', 'follows = "guitar 2"', (49, 0), "follows itself"),
    "invalid TOML": ("tempo = { start = 92,", "tempo = { start == 92,", (5, 18), "not valid TOML"),
    "a form that plays what is not there": (
        '"Signal fires"]',
        '"Signal fire"]',
        (6, 24),
        'Did you mean "Signal fires"',
    ),
    "an unknown row": ("\nmute  |", "\nmuted |", (26, 1), 'Did you mean "mute"'),
    "an unknown kind of block": ("```harmony guitar 2", "```harmoni guitar 2", (49, 4), 'Did you mean "harmony"'),
    "an unknown drum stroke": ("snare |     x", "snare |     y", (32, 13), "x hit, X accented, o ghost"),
    "no closing bar line": (
        "pick  | d d u d d u d d u d d u | d d u d d u d d d d |",
        "pick  | d d u d d u d d u d d u | d d u d d u d d d d",
        (27, 35),
        "after the last bar line",
    ),
    "an empty title": ('title = "Iron Causeway"', 'title = ""', (2, 1), "title is missing"),
    "a title that fools the terminal": (
        'title = "Iron Causeway"',
        'title = "Iron\\u001b[2J"',
        (2, 1),
        "control or invisible",
    ),
    "a simile beside notes": (
        "count | 1 & 2 & 3 & 4 & | % |",
        "count | % | 1 & 2 & 3 & 4 & |",
        (31, 9),
        "% must stand alone in its bar",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_mistake_is_told_with_its_place_and_its_mending(name: str) -> None:
    old, new, place, words = CASES[name]
    assert IRON.count(old) == 1, "the mistake must be made in one place"
    with pytest.raises(ProblemsError, match=words) as caught:
        read(IRON.replace(old, new), "iron.md", ["lead left", "picked bass"])
    assert place in [(problem.line, problem.column) for problem in caught.value.problems]
    assert all(str(problem).startswith(f"iron.md:{problem.line}") for problem in caught.value.problems)
    assert "\x1b" not in str(caught.value)


def test_the_exercise_itself_is_sound() -> None:
    assert read(IRON, "iron.md", ["lead left", "picked bass"]).id == "iron"


def test_every_mistake_of_a_file_is_told_at_once() -> None:
    text = (
        IRON.replace("8b10~ r", "8q10~ r").replace('"third below"', '"thrid below"').replace("x       X", "x       Y")
    )
    with pytest.raises(ProblemsError) as caught:
        read(text, "iron.md")
    assert [problem.line for problem in caught.value.problems] == [32, 46, 51]


def test_parts_that_disagree_name_each_other() -> None:
    bass = "```tab bass\ncount | 1 & 2 & 3 & 4 & |\n4     | 0 0 0 0 0 0 0 0 |\n```\n\n## Signal"
    with pytest.raises(ProblemsError, match=r"bass has 1 bars, guitar 1 has 2.*same bars"):
        read(IRON.replace("## Signal", bass), "iron.md")


def test_a_harmony_cannot_follow_the_drums() -> None:
    harmony = '```harmony guitar 2\nfollows = "drums"\ninterval = "third above"\n```\n\n## Signal'
    with pytest.raises(ProblemsError, match="guitar 2 follows drums, which has no pitches"):
        read(IRON.replace("## Signal", harmony), "iron.md")


def test_meters_that_disagree_are_told() -> None:
    text = """+++
title = "Two feet"
+++

## A

```tab guitar 1
count | 1 2 3 4 |
meter | 4/4     |
6     | 0 0 0 0 |
```

```tab bass
count | 1 2 3 |
meter | 3/4   |
4     | 0 0 0 |
```
"""
    with pytest.raises(ProblemsError, match="bar 1 is 3/4 in bass and 4/4 in guitar 1"):
        read(text, "two.md")


def test_a_hint_that_asks_ends_as_a_question() -> None:
    asks = Problem("a.md", 1, 1, 'a key "E aeolean" is not known', hint='Did you mean "E aeolian"')
    tells = Problem("a.md", 1, 1, "the bar is short", hint="Add a rest")
    assert str(asks).endswith('is not known. Did you mean "E aeolian"?')
    assert str(tells).endswith("the bar is short. Add a rest.")


def _with_ladder(ladder: str) -> str:
    return IRON.replace("\n[parts.", f"\n[ladder]\n{ladder}\n[parts.", 1)


def test_what_no_ladder_can_follow_is_told_at_its_place() -> None:
    text = _with_ladder('passes = 21\nmiss = 11\nstep = "51%"\nbeyond = 26\n')
    with pytest.raises(ProblemsError) as caught:
        read(text, "iron.md")
    first = text.split("\n").index("passes = 21") + 1
    assert [(problem.line, problem.what, problem.allowed) for problem in caught.value.problems] == [
        (first, '"passes" cannot be 21', "1 to 20"),
        (first + 1, '"miss" cannot be 11', "0 to 10"),
        (first + 2, "\"step\" cannot be '51%'", 'bpm such as "4", or per cent such as "3%", 0.1 to 50'),
        (first + 3, '"beyond" cannot be 26', 'per cent such as "3%", 0 to 25'),
    ]


@pytest.mark.parametrize("number", [0, 1])
def test_the_ladder_climbs_with_every_figure_a_file_may_ask_for(number: int) -> None:
    asked = {name: bounds[number] for name, bounds in LADDER_BOUNDS.items()}
    found = read(_with_ladder("".join(f"{name} = {value}\n" for name, value in asked.items())), "iron.md").ladder
    rules = rules_for(92, 168, asdict(found))
    assert (rules.passes, rules.miss, rules.beyond) == (asked["passes"], asked["miss"], asked["beyond"])
    assert rules.step == Rise(asked["step"], "bpm")
