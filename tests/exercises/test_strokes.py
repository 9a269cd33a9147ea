"""The rule for strokes against those that were written by hand in the bundled exercises."""

from dataclasses import replace

from tests.exercises.bundled import every
from trainer.arranging.strokes import strokes


def test_nearly_all_written_strokes_follow_the_rule() -> None:
    asked = agree = 0
    for one_exercise in every():
        for riff in one_exercise.exercise.riffs:
            for part in riff.tabs:
                written = {(one.bar, one.offset): one.direction for one in strokes(part, riff) if one.written}
                bars = tuple(tuple(replace(moment, pick="") for moment in bar) for bar in part.bars)
                found = {(one.bar, one.offset): one.direction for one in strokes(replace(part, bars=bars), riff)}
                asked += len(written)
                agree += sum(found[place] == direction for place, direction in written.items())
    assert asked > 1500
    assert agree / asked > 0.965
