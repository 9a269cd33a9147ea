"""From a riff to the strokes a take must hold."""

from fractions import Fraction

import pytest

from trainer.listening.written import GallopNote
from trainer.listening.written_part import written_part
from trainer.music.riff import Riff
from trainer.notation.read import read

TEXT = """+++
title = "Salt Road"
key = "E aeolian"
tempo = { start = 90, target = 120 }
+++

# Salt Road

## Gallop

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & 2 & 3 & 4 & |
5     |                     2 3 |   2     9       |
6     | 0 0 0 0 0 0 0 0 3 2     | 0   3   7   x   |
mute  | = = = = = = = =         |                 |
pick  | d d u d d u             |                 |
```

```tab guitar 2
count | 1 & a 2 & a 3 & a 4 & a | 1 & 2 & 3 & 4 & |
5     | 7 7 7 7 7 7 7 7 7 7 7 7 | 5               |
```
"""


@pytest.fixture
def riff() -> Riff:
    return read(TEXT, "salt.md").riffs[0]


def test_a_riff_becomes_strokes_with_names(riff: Riff) -> None:
    written = written_part(riff, "guitar 1", Fraction(90))
    first = written.strokes[:3]
    assert [stroke.count for stroke in first] == ["1", "1 &", "1 a"]
    assert [stroke.figure for stroke in first] == [GallopNote.LONG, GallopNote.FIRST_SHORT, GallopNote.SECOND_SHORT]
    assert [stroke.pick for stroke in first] == ["down", "down", "up"]
    assert first[1].at == Fraction(1, 3)
    assert all(stroke.muted for stroke in first)
    assert written.strokes[0].pitches == (40,)
    assert written.length == 8 * Fraction(60, 90)


def test_a_loop_begins_at_its_first_bar(riff: Riff) -> None:
    written = written_part(riff, "guitar 1", Fraction(120), bars=(2, 2))
    assert written.strokes[0].at == 0
    assert written.strokes[0].bar == 2
    assert written.length == 2
    assert written.strokes[-1].dead


def test_chords_are_one_stroke_and_shifts_are_seen(riff: Riff) -> None:
    written = written_part(riff, "guitar 1", Fraction(120), bars=(2, 2))
    chord = next(stroke for stroke in written.strokes if len(stroke.pitches) == 2)
    assert chord.pitches == (47, 54)
    assert chord.shift


def test_several_passes_follow_without_a_break(riff: Riff) -> None:
    once, twice = (written_part(riff, "guitar 1", Fraction(120), passes=count) for count in (1, 2))
    assert len(twice.strokes) == 2 * len(once.strokes)
    assert twice.strokes[len(once.strokes)].at == once.length


def test_what_is_not_there_is_told(riff: Riff) -> None:
    with pytest.raises(ValueError, match="no part on strings"):
        written_part(riff, "drums", Fraction(120))
    with pytest.raises(ValueError, match="no bars 2 to 5"):
        written_part(riff, "guitar 1", Fraction(120), bars=(2, 5))
