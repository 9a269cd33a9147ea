"""Judging a second of nothing, so that the first verdict does not wait for imports and tables."""

from fractions import Fraction

from trainer.listening.ahead import Judging, Question
from trainer.listening.bands import Bands
from trainer.listening.written import Stroke, Written

BEGINS_S = 0.15


def warm_up(judging: Judging, bands: Bands) -> None:
    """Let somebody judge two seconds of noise."""
    import numpy as np

    eighth = Fraction(1, 4)
    strokes = tuple(Stroke(number * eighth, eighth, (40 + number,)) for number in range(8))
    noise = np.random.default_rng(1).normal(0, 0.01, 96_000).astype(np.float32)
    judging.begin(48_000)
    judging.add(noise)
    judging.judge(Question(Written(strokes, 8 * eighth), BEGINS_S, bands))
