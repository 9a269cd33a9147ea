"""Listening while the stand plays: each pass is cut out of what comes in, judged in a thread of its own, and kept."""

import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.playback.piece import Piece
from trainer.playback.share import PassReport
from trainer.practice.passes import Pass
from trainer.screens.ears import Ear

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.midi_take import MidiTake
    from trainer.listening.sound import Sound
    from trainer.listening.takes import Takes

BEFORE_S = 0.15
"""What is cut out before a pass begins."""
AFTER_S, UNKNOWN_AFTER_S = 0.1, 0.25
"""How long after the last note's end is listened; the longer while no pass has told yet how late sound comes in."""
LATEST_S = 0.4
"""How late sound may come in."""
STANDSTILL_S = 2.0
"""Seconds without sound after which a pass is judged by what there is."""
KEEP_S = 240.0
"""Of what came in; no pass is longer that is judged."""
PAUSE_SECONDS = 0.01
DROPPED = "The sound card dropped frames in this pass, which moves what comes after: close other programs."


@dataclass(frozen=True, slots=True)
class Asked:
    """A pass that is to be judged."""

    played: Pass
    piece: Piece
    riff: Riff
    bars: tuple[int, int]
    """First and last bar in the riff, from 1."""
    at: Fraction
    """Where in the piece it begins."""
    tempo_bpm: Fraction
    """The riff's own tempo at its start."""
    begins: float
    """When it began to sound, on the stand's clock."""


def asked(played: Pass, report: PassReport, piece: Piece, begins: float) -> Asked | None:
    """What to judge a pass by; None where it cannot be judged: its tempo or bars changed, or it goes over two riffs."""
    first, last = piece.bars[played.first_bar - 1], piece.bars[played.last_bar - 1]
    if not report.steady or first.riff != last.riff:
        return None
    riff = piece.riffs[first.riff].riff
    bars = (first.number + 1, last.number + 1)
    return Asked(played, piece, riff, bars, first.at, report.share * riff.tempo.target, begins)


@dataclass(frozen=True, slots=True)
class Heard:
    """A pass and what was heard of it."""

    asked: Asked
    judgement: "Judgement"


class Listener:
    """Judges one pass after another, as soon as its sound has come in."""

    def __init__(
        self,
        ear: Ear,
        bands: "Bands",
        takes: "Takes | None",
        *,
        clock: Callable[[], float],
        now: Callable[[], datetime],
        heard: Callable[[Heard], None],
        tell: Callable[[str], None],
        gone: Callable[[str], object],
    ) -> None:
        """Begin to listen.

        Args:
            ear: the open input; it is closed with this.
            bands: by which is judged.
            takes: where takes are kept; None keeps none.
            clock: seconds, the same as the ear's.
            now: the time of day.
            heard: gets each judgement, in this listener's thread.
            tell: hears sentences for the player, in this listener's thread.
            gone: told, in a sentence, that the input went away and nothing more is heard; in this listener's thread.
        """
        self.ear = ear
        self.bands = bands
        self._takes, self._clock, self._now, self._heard, self._tell = takes, clock, now, heard, tell
        self._gone = gone
        self._late = 0.0
        self._dropped = 0
        self._refined = False
        self._said: set[str] = set()
        self._asked: deque[Asked] = deque()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)
        self._thread.start()

    def ask(self, asked: Asked) -> None:
        """Judge a pass that is over; from any thread."""
        self._asked.append(asked)

    def close(self) -> None:
        """Stop listening; a pass that is being judged is not waited for longer than its judging takes."""
        self._closing.set()
        if threading.current_thread() is not self._thread:
            self._thread.join(timeout=STANDSTILL_S)
        self.ear.close()

    def _run(self) -> None:
        self._warm_up()
        while not self._closing.wait(PAUSE_SECONDS):
            reach = self.ear.reach()
            if self._asked:
                self._look(reach)
            if self.ear.gone:
                self._gone(self.ear.gone)
                return
            self.ear.forget(self._clock() - KEEP_S)

    def _look(self, reach: float) -> None:
        from trainer.listening.expected import written_part

        item = self._asked[0]
        try:
            written = written_part(item.riff, item.played.line.part, item.tempo_bpm, item.bars)
        except ValueError as error:
            self._asked.popleft()
            self._once(str(error))
            return
        last = max(float(stroke.at + stroke.length) for stroke in written.strokes)
        after = AFTER_S if self._refined else UNKNOWN_AFTER_S
        begins = item.begins + self._late
        end = begins + last + after
        if reach < end and not self.ear.gone and self._clock() < end + STANDSTILL_S:
            return
        self._asked.popleft()
        take = self.ear.between(begins - BEFORE_S, end)
        from trainer.listening.pass_judging import judge_cut_pass

        judgement = judge_cut_pass(take, BEFORE_S, written, self.bands)
        dropped, self._dropped = self.ear.dropped - self._dropped, self.ear.dropped
        if dropped:
            judgement = replace(judgement, warnings=(*judgement.warnings, DROPPED))
        self._heard(Heard(item, judgement))
        self._refine(judgement)
        self._keep(take, item, judgement)

    def _refine(self, judgement: "Judgement") -> None:
        """A pass was followed: the next one is looked for as late as this one was."""
        performance = judgement.performance
        if performance is not None and judgement.verdict.counts:
            late = self._late + performance.start_s - BEFORE_S
            self._late, self._refined = min(max(late, -BEFORE_S), LATEST_S), True

    def _keep(self, take: "Sound | MidiTake", item: Asked, judgement: "Judgement") -> None:
        if self._takes is None:
            return
        performance = judgement.performance
        start = performance.start_s if performance is not None and judgement.verdict.counts else BEFORE_S
        line = item.played.line
        about = {
            "exercise": line.exercise, "riff": item.riff.name, "part": line.part,
            "tempo_bpm": float(item.tempo_bpm), "first_bar": item.bars[0], "last_bar": item.bars[1], "passes": 1,
            "start_s": round(start, 6), "start_known": False, "pass": item.played.uuid,
        }  # fmt: skip
        try:
            self._takes.keep(take, judgement, about, self._now())
        except ProblemsError as error:
            self._once(str(error.problems[0]))

    def _once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._tell(sentence)

    def _warm_up(self) -> None:
        """Judge a second of nothing, so that the first verdict does not wait for imports and tables."""
        import numpy as np

        from trainer.listening.pass_judging import judge_cut_pass
        from trainer.listening.sound import Sound
        from trainer.listening.written import Stroke, Written

        eighth = Fraction(1, 4)
        strokes = tuple(Stroke(number * eighth, eighth, (40 + number,)) for number in range(8))
        noise = np.random.default_rng(1).normal(0, 0.01, 96_000).astype(np.float32)
        with suppress(ValueError):
            judge_cut_pass(Sound(noise, 48_000), BEFORE_S, Written(strokes, 8 * eighth), self.bands)
