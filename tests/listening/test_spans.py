"""Passes over several riffs: each at its own tempo, bars counted through, and what of a pass was broken off."""

from fractions import Fraction

import pytest

from trainer.arranging.realise import realise_exercise
from trainer.listening.written_part import RiffBars, bar_ends, first_bars, seconds_to, written_part, written_pass
from trainer.music.riff import Riff
from trainer.notation.read import read

FORM = """+++
title = "Two Weirs"
key = "E aeolian"
+++

## Upper

```riff
tempo = { start = 100, target = 120 }
```

```tab guitar 1
count | 1 2 3 4 | 1 2 3 4 |
6     | 0 3 5 3 | 0 3 5 3 |
tempo |         | 60      |
```

```tab bass
count | 1 2 3 4 | 1 2 3 4 |
4     | 0 0 0 0 | 0 0 0 0 |
```

## Between

```riff
tempo = { start = 100, target = 200 }
```

```tab bass
count | 1 2 3 4 |
4     | 0 0 0 0 |
```

## Lower

```riff
tempo = { start = 80, target = 160 }
meter = "3/4"
```

```tab guitar 1
count | 1 2 3 |
5     | 2 3 5 |
```
"""


@pytest.fixture(scope="module")
def riffs() -> tuple[Riff, ...]:
    return realise_exercise(read(FORM, "two-weirs.md")).riffs


def spans(riffs: tuple[Riff, ...]) -> list[RiffBars]:
    return [RiffBars(riff, 1, len(riff.meters)) for riff in riffs]


def test_one_riff_is_what_it_always_was(riffs: tuple[Riff, ...]) -> None:
    upper = riffs[0]
    assert written_pass([RiffBars(upper, 2, 2)], "guitar 1", Fraction(1, 2)) == written_part(
        upper, "guitar 1", Fraction(60), (2, 2)
    )


def test_every_riff_keeps_its_own_tempo_and_its_marks(riffs: tuple[Riff, ...]) -> None:
    written = written_pass(spans(riffs), "guitar 1", Fraction(1))
    at = [stroke.at for stroke in written.strokes]
    half, third = Fraction(1, 2), Fraction(60, 160)
    assert at == [
        *(k * half for k in range(4)),
        *(2 + k for k in range(4)),
        *(6 + Fraction(4 * 60, 200) + k * third for k in range(3)),
    ]
    assert written.length == 6 + Fraction(6, 5) + 3 * third
    assert bar_ends(spans(riffs), Fraction(1)) == (2, 6, Fraction(36, 5), written.length)


def test_a_slower_share_is_slower_everywhere(riffs: tuple[Riff, ...]) -> None:
    whole, half = (written_pass(spans(riffs), "guitar 1", share) for share in (Fraction(1), Fraction(1, 2)))
    assert [2 * stroke.at for stroke in whole.strokes] == [stroke.at for stroke in half.strokes]
    assert half.tempo_bpm == 60


def test_bars_are_counted_through_and_places_stand_in_the_pass(riffs: tuple[Riff, ...]) -> None:
    written = written_pass(spans(riffs), "guitar 1", Fraction(1), first_bar=5)
    assert [stroke.bar for stroke in written.strokes] == [5] * 4 + [6] * 4 + [8] * 3
    assert written.strokes[-3].offset == 3 and written.strokes[-3].place == "bar 8, count 1"
    assert [name for name, _ in written.others] == ["bass"]


def test_a_part_that_never_plays_is_told(riffs: tuple[Riff, ...]) -> None:
    with pytest.raises(ValueError, match="no part on strings called 'guitar 2'"):
        written_pass(spans(riffs), "guitar 2", Fraction(1))


def test_of_a_pass_that_was_broken_off_only_whole_bars_are_left(riffs: tuple[Riff, ...]) -> None:
    written = written_pass(spans(riffs), "guitar 1", Fraction(1))
    ends = bar_ends(spans(riffs), Fraction(1))
    first = first_bars(written, ends, 1)
    assert first is not None and len(first.strokes) == 4 and first.length == 2
    assert first_bars(written, ends, 0) is None
    assert first_bars(written, ends, 4) == written


def test_seconds_inside_a_riff_follow_its_marks(riffs: tuple[Riff, ...]) -> None:
    upper = riffs[0]
    assert [seconds_to(upper.tempo_map, Fraction(k, 2)) for k in range(-1, 6)] == [0, 0, 1, 2, 4, 6, 6]
