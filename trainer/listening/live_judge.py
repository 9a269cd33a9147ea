"""Judging a pass while it sounds: what has come so far is heard ahead, so that little is left to do after its end."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from trainer.listening.bands import Bands
from trainer.listening.growing_sound import GrowingSound
from trainer.listening.judging import GUESSES_S, Judgement, judge_cut_pass
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Samples
from trainer.listening.take_info import TakeInfo
from trainer.listening.written import WrittenPart, WrittenStroke
from trainer.music.problem import Problem

UNHEARD_S = 0.25
"""What came last is not heard ahead: more of it is to come."""
LEAST_STROKES = 8
FOLLOWED = 0.8
"""Share of the strokes so far that must be found for a look to tell where the pass begins."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of a take."""

    written: WrittenPart
    begins_s: float
    """Second of the take at which the pass begins."""
    bands: Bands
    known: bool = False
    """Whether calibration tells that; if not, early or late as a whole is not told."""
    within_ms: float = 0.0
    """How far it may be wrong then."""
    guesses: Sequence[float] | None = None
    """Seconds by which the begin may be off, to be tried; None for the usual."""
    warnings: tuple[str, ...] = ()
    """What is known already to have spoilt the take."""


@dataclass(frozen=True, slots=True)
class WorkerProblems:
    """Problems as they are told from one process to another."""

    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class WorkerMistake:
    """A mistake of ours, as it is told from one process to another."""

    how: str
    """How it came about, line by line."""


class LiveJudge(Protocol):
    """Judges passes one after the other: here, or in a process of its own (`worker_judge.py`)."""

    def begin(self, rate: int, again: Callable[[], Samples] | None = None) -> None:
        """A new pass's sound comes in, frames a second; `again` gives once more what was added of it."""

    def add(self, samples: Samples) -> None:
        """More of it."""

    def look(self, question: Question) -> object:
        """Hear ahead what has come so far."""

    def looked(self) -> float | None:
        """Where the pass begins, in seconds of the take, as the last look found; None where it found nothing yet.

        Told once for each look, and never waited for.
        """

    def judge(self, question: Question, notes: MidiTake | None = None) -> Judgement:
        """The judgement on what came; of `notes`, where they came by MIDI."""

    def keep(self, folder: Path, limit_bytes: int, info: TakeInfo, at: datetime) -> None:
        """Keep the take that was judged last. Raises ProblemsError."""

    def close(self) -> None:
        """End it. May be called twice."""


def _holds_notes(judgement: Judgement, bands: Bands) -> bool:
    """Whether there is more to hear than noise: that hardly depends on where the pass is taken to begin."""
    performance = judgement.performance
    return performance is not None and performance.clarity >= bands.least_clear


class LocalJudge:
    """Judges in the caller's thread."""

    def __init__(self) -> None:
        self._growing = GrowingSound(48_000)
        self._judged: tuple[MidiTake | None, Judgement, Bands] | None = None
        self._looked: float | None = None

    def begin(self, rate: int, again: Callable[[], Samples] | None = None) -> None:
        """A new pass's sound comes in."""
        self._growing = GrowingSound(rate)

    def add(self, samples: Samples) -> None:
        """More of it."""
        self._growing.add(samples)

    def looked(self) -> float | None:
        """Where the pass begins as the last look found."""
        found, self._looked = self._looked, None
        return found

    def look(self, question: Question) -> float | None:
        """Hear ahead what has come so far: the same work as at the end, of which what costs most is remembered."""
        from trainer.listening.hearing import hear

        self._looked = None
        sound = self._growing.sound()
        reach = sound.seconds - question.begins_s - UNHEARD_S
        strokes = tuple(stroke for stroke in question.written.strokes if stroke.at < reach)
        if len(strokes) >= LEAST_STROKES and sound.peak > 0:
            guesses = question.guesses or ((0.0,) if question.known else GUESSES_S)
            starts = [(question.begins_s + guess, 1.0) for guess in guesses]
            hearing = hear(sound, replace(question.written, strokes=strokes), starts)
            if sum(heard is not None for heard in hearing.strokes) >= FOLLOWED * len(strokes):
                self._looked = hearing.alignment.start_s
        return self._looked

    def judge(self, question: Question, notes: MidiTake | None = None) -> Judgement:
        """The judgement on what came."""
        judgement = self._found(question, notes, question.guesses)
        if not judgement.verdict.counts and question.guesses is not None and _holds_notes(judgement, question.bands):
            judgement = self._found(question, notes, None)  # it may begin elsewhere after all
        judgement = replace(judgement, warnings=(*judgement.warnings, *question.warnings))
        self._judged = notes, judgement, question.bands
        return judgement

    def _found(self, question: Question, notes: MidiTake | None, guesses: Sequence[float] | None) -> Judgement:
        return judge_cut_pass(
            self._growing.sound() if notes is None else notes,
            question.begins_s,
            question.written,
            question.bands,
            known=question.known,
            within_ms=question.within_ms,
            guesses=guesses,
        )

    def keep(self, folder: Path, limit_bytes: int, info: TakeInfo, at: datetime) -> None:
        """Keep the take that was judged last. Raises ProblemsError."""
        from trainer.listening.takes import Takes

        if self._judged is not None:
            notes, judgement, bands = self._judged
            take = notes if notes is not None else self._growing.sound()
            Takes(folder, limit_bytes).keep(take, judgement, info, at, bands)

    def close(self) -> None:
        """Nothing to end."""


BEGINS_S = 0.15


def warm_up(judging: LiveJudge, bands: Bands) -> None:
    """Let somebody judge two seconds of noise."""
    import numpy as np

    eighth = Fraction(1, 4)
    strokes = tuple(WrittenStroke(number * eighth, eighth, (40 + number,)) for number in range(8))
    noise = np.random.default_rng(1).normal(0, 0.01, 96_000).astype(np.float32)
    judging.begin(48_000)
    judging.add(noise)
    judging.judge(Question(WrittenPart(strokes, 8 * eighth), BEGINS_S, bands))
