import pytest

from trainer.music.part import HarmonyPart, PedalNote
from trainer.music.pitch import Pitch
from trainer.music.problem import ProblemsError
from trainer.notation.read import read
from trainer.notation.write import write

FILE = """+++
title = "Options"
key = "E aeolian"
tempo = 100
+++

## One

```tab guitar 1
count | 1 2 3 4 | 1 2 3 4 |
2     | 5 7 8 7 | 5 7 8 7 |
```

```tab bass
count | 1 2 3 4 | 1 2 3 4 |
4     | 0       | 0       |
```

```harmony guitar 2
follows = "guitar 1"
{}
```
"""


def harmony(text: str) -> HarmonyPart:
    exercise = read(FILE.replace("{}", text), "options.md")
    assert read(write(exercise), "options.md") == exercise
    part = exercise.riffs[0].part("guitar 2")
    assert isinstance(part, HarmonyPart)
    return part


def test_a_pedal_is_an_interval() -> None:
    assert harmony('interval = "pedal E3"').distance == PedalNote(Pitch.parse("E3"))


def test_a_pedal_may_be_an_exception() -> None:
    part = harmony('interval = "third above"\nexcept = [{ bar = 2, count = "3", interval = "pedal B4" }]')
    assert part.exceptions[0].distance == PedalNote(Pitch.parse("B4"))


def test_every_option_is_read_and_written() -> None:
    part = harmony(
        'interval = "third above"\nmotion = "contrary"\nrange = "E3 E5"\nfrets = "5-9"\n'
        'avoid = ["bass", "chord"]\nleads = "1, 2-2"'
    )
    assert part.contrary
    assert part.within == (Pitch.parse("E3"), Pitch.parse("E5"))
    assert part.frets == (5, 9)
    assert part.avoid == ("bass", "chord")
    assert part.leads == ((1, 1), (2, 2))


def test_without_options_nothing_changes() -> None:
    part = harmony('interval = "third above"')
    assert (part.contrary, part.within, part.frets, part.avoid, part.leads) == (False, None, None, (), ())


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ('motion = "contrarian"', 'Did you mean "contrary"'),
        ('range = "E5 E3"', "two pitches, low to high"),
        ('range = "H3"', "two pitches, low to high"),
        ('frets = "9-5"', 'such as "5-9"'),
        ('frets = "5"', 'such as "5-9"'),
        ('avoid = ["base"]', 'Did you mean "bass"'),
        ('avoid = "bass"', "must be a list"),
        ('leads = "3-4"', "bars from 1 to 2"),
        ('leads = "0"', "bars from 1 to 2"),
    ],
)
def test_a_wrong_option_is_told_at_its_place(option: str, words: str) -> None:
    with pytest.raises(ProblemsError) as caught:
        read(FILE.replace("{}", f'interval = "third above"\n{option}'), "options.md")
    (problem,) = caught.value.problems
    assert words in str(problem)
    assert problem.line == 22


def test_an_unknown_pedal_names_the_right_words() -> None:
    with pytest.raises(ProblemsError, match="pedal E3"):
        read(FILE.replace("{}", 'interval = "pedal H3"'), "options.md")
