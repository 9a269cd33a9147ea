"""Performances with known deviations, laid over their part without any sound: what statistics must find again."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement, JudgeSettings, judged
from trainer.listening.performance import Performance, PlayedStroke
from trainer.listening.written import WrittenPart, WrittenStroke

Off = Callable[[int, WrittenStroke], float]


def nowhere(_: int, __: WrittenStroke) -> float:
    """No deviation beside the player's own scatter."""
    return 0.0


def laid(
    written: WrittenPart, off: Off = nowhere, scatter_ms: float = 4.0, seed: int = 1, *, known: bool = False
) -> Performance:
    """A performance in which every stroke is off by what `off` says and by some scatter, in ms."""
    rng = np.random.default_rng(seed)
    strokes = []
    for index, stroke in enumerate(written.strokes):
        deviation = off(index, stroke) + float(rng.normal(0, scatter_ms))
        strokes.append(PlayedStroke(stroke, 1.0 + float(stroke.at) + deviation / 1000, deviation))
    return Performance(written, tuple(strokes), (), 1.0, known)


def without(performance: Performance, *which: int) -> Performance:
    """The same with some strokes missed."""
    strokes = tuple(
        PlayedStroke(item.stroke, shift=None) if index in which else item
        for index, item in enumerate(performance.strokes)
    )
    return replace(performance, strokes=strokes)


def shifted(performance: Performance, semitones: int, *which: int) -> Performance:
    """The same with some strokes at another pitch."""
    strokes = tuple(
        replace(item, shift=semitones) if index in which else item for index, item in enumerate(performance.strokes)
    )
    return replace(performance, strokes=strokes)


def told(performance: Performance, bands: Bands | None = None) -> Judgement:
    return judged(performance, JudgeSettings(bands or Bands()))


def first(performance: Performance) -> str:
    """The first sentence of its verdict; empty where nothing is blamed."""
    reasons = told(performance).verdict.reasons
    return reasons[0].sentence if reasons else ""
