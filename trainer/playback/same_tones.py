"""What two timelines of the same bars have in common: which tones sound on when one takes the other's place."""

from collections.abc import Mapping
from math import lcm

from trainer.playback.timeline import Timeline


def exchangeable(one: Timeline, other: Timeline) -> bool:
    """Whether one may take the other's place while it plays: the same bars, tempos, parts, patches and channels."""
    return (
        one.layout == other.layout
        and one.voices == other.voices
        and one.curve.spans == other.curve.spans
        and one.piece.bars == other.piece.bars
    )


def same_tones(one: Timeline, other: Timeline) -> Mapping[int, int]:
    """For the index of each tone of one timeline that the other has as well, its index there.

    Tones are the same when they sound the same at the same place; the grids may have different steps.
    """
    steps = lcm(one.curve.steps, other.curve.steps)
    there = {tone: index for index, tone in enumerate(_plain_tones(other, steps))}
    return {index: there[tone] for index, tone in enumerate(_plain_tones(one, steps)) if tone in there}


def _plain_tones(line: Timeline, steps: int) -> list[tuple[object, ...]]:
    """The tones on a finer grid, with their sounds as values."""
    times, sounds = steps // line.curve.steps, line.sounds
    return [(tone.step * times, tone.end * times, *tone[2:5], sounds[tone.sound], *tone[6:]) for tone in line.tones]
