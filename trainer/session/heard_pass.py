"""The values that listening works on: a passage of music, a pass through it, and how that pass was judged.

A pass is `PassInProgress` while it sounds, `PassToJudge` once it is over or broken off, and `JudgedPass` at the end.
Moments are seconds on the session's clock.
"""

from collections import deque
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from trainer.music.exercise import Exercise
from trainer.playback.piece import Loop, Piece
from trainer.playback.share import PassReport
from trainer.practice.passes import Pass

if TYPE_CHECKING:
    from trainer.listening.judging import Judgement
    from trainer.listening.take_info import TakeInfo
    from trainer.listening.written import WrittenPart
    from trainer.listening.written_part import RiffBars
    from trainer.session.latency import CalibratedLatency
    from trainer.session.loop_check import OtherSound

TEMPO_CHANGED = "This pass was not played from its first bar to its last at one tempo, so it is not judged."
FORM_BARS = "Bars are counted through the form, as the loop counts them."


@dataclass(frozen=True, slots=True)
class Passage:
    """What one pass plays: some bars of a piece, one part of it, at one tempo."""

    piece: Piece
    loop: Loop
    part: str
    share: Fraction
    """Of the target tempo of each of its riffs."""
    click: str | None = None
    """The name of the click pattern; empty for no click, None where that is not known."""
    passes: int = 1
    """Times through without a break."""
    file: str = ""
    """The exercise's file, where it was named by its path."""

    @property
    def spans(self) -> "tuple[RiffBars, ...]":
        """Its bars, riff by riff."""
        from trainer.listening.written_part import riff_bars

        bars, riffs = self.piece.bars[self.loop.first : self.loop.last + 1], self.piece.riffs
        return riff_bars((bar.riff, riffs[bar.riff].riff, bar.number + 1) for bar in bars)

    @property
    def at(self) -> Fraction:
        """Where in the piece it begins."""
        return self.piece.bars[self.loop.first].at

    @property
    def tempo_bpm(self) -> Fraction:
        """The tempo of its first riff."""
        return self.share * self.piece.target_bpm(self.loop.first)

    def seconds_to(self, bar: int, offset: Fraction) -> float:
        """Seconds from the start of the pass to a place in a bar; negative for a place before it.

        Args:
            bar: counted from 0 through the piece.
            offset: from the start of that bar, in whole notes.
        """
        from trainer.listening.written_part import seconds_to

        bars, riffs = self.piece.bars, self.piece.riffs
        begin, end = bars[self.loop.first].at, bars[bar].at + offset
        first, last = sorted((bars[self.loop.first].riff, bars[bar].riff))
        total = sum(
            (
                seconds_to(tempos, end - played.at) - seconds_to(tempos, begin - played.at)
                for played in riffs[first : last + 1]
                for tempos in [played.riff.tempo_map]
            ),
            Fraction(0),
        )
        return float(total / self.share)

    @property
    def info(self) -> "TakeInfo":
        """What a take of it says about itself."""
        from trainer.listening.take_info import TakeInfo

        spans = self.spans
        whole = TakeInfo(
            exercise=self.piece.exercise.id, part=self.part, passes=self.passes, click=self.click, file=self.file
        )  # fmt: skip
        if len(spans) == 1:
            (span,) = spans
            tempo = float(self.tempo_bpm)
            return replace(whole, riff=span.riff.name, first_bar=span.first, last_bar=span.last, tempo_bpm=tempo)
        first, last, tempo = self.loop.first + 1, self.loop.last + 1, float(self.share * self.piece.target_bpm(0))
        return replace(whole, form=True, first_bar=first, last_bar=last, tempo_bpm=tempo)

    @classmethod
    def of_take(cls, info: "TakeInfo", exercise: Exercise) -> "Passage":
        """Find the passage that a kept take is of.

        Args:
            info: what the take says about itself.
            exercise: its exercise, the harmonies computed.

        Raises:
            ValueError: it is not there any more; the sentence says what is missing.
        """
        riff = exercise.riff(info.riff) if info.riff and not info.form else None
        if riff is None and not info.form:
            raise ValueError(f'{exercise.title} has no riff "{info.riff}" any more')
        piece = Piece.of(exercise, exercise.played if riff is None else (riff,))
        bars, first = len(piece.bars), info.first_bar or 1
        last = info.last_bar or bars
        if not first <= last <= bars:
            raise ValueError(f"It has {bars} bars now, not bars {first} to {last}")
        if info.part not in piece.part_names:
            raise ValueError(f'No part is called "{info.part}" any more')
        target = piece.target_bpm(0)
        tempo = float(target) if info.tempo_bpm is None else info.tempo_bpm
        if not 1 <= tempo <= 1_000:
            raise ValueError(f"{tempo} is no tempo")
        share = Fraction(tempo).limit_denominator(1_000_000) / target
        return cls(piece, Loop(first - 1, last - 1), info.part, share, info.click, info.passes, info.file)

    def written(self) -> "tuple[WrittenPart | None, tuple[Fraction, ...], str]":
        """The strokes to be played, the seconds at which each bar ends, and why it cannot be judged (empty: it can).

        The answers for the last few passages are remembered: the same passage gives the very same strokes.
        """
        for passage, found in _FOUND:
            same = (passage.loop, passage.part, passage.share) == (self.loop, self.part, self.share)
            if same and passage.piece is self.piece:
                return found
        from trainer.listening.written_part import bar_ends, written_pass

        spans = self.spans
        ends = bar_ends(spans, self.share)
        try:
            found = written_pass(spans, self.part, self.share, self.loop.first + 1), ends, ""
        except ValueError as error:
            found = None, ends, str(error)
        _FOUND.append((self, found))
        return found


_FOUND: "deque[tuple[Passage, tuple[WrittenPart | None, tuple[Fraction, ...], str]]]" = deque(maxlen=4)


@dataclass(frozen=True, eq=False)  # no slots: what a pass must hold is found once
class PassToJudge:
    """A pass that is over and waits to be judged."""

    passage: Passage
    begins: float
    """When it began to sound."""
    played: Pass | None = None
    """The pass in the log; None for one that was broken off."""
    steady: bool = True
    """Whether it was played from its first bar to its last at one tempo."""
    bars: int | None = None
    """How many whole bars were played, where it was broken off."""
    latency: "CalibratedLatency | None" = None
    """How late it comes in, where that was calibrated."""
    others: "OtherSound | None" = None
    """What else sounded meanwhile; None where that is not known."""
    start: Fraction | None = None
    """The frame at which it began, by the sink's clock: it says which pass this is."""
    number: int = 0
    """Counted from 1 since the riff was put on; 0 where that is not known."""

    @cached_property
    def written(self) -> "WrittenPart | None":
        """The strokes to be played; None where it cannot be judged."""
        written, ends, _ = self.passage.written()
        if not self.steady or written is None:
            return None
        if self.bars is None:
            return written
        from trainer.listening.written_part import first_bars

        return first_bars(written, ends, self.bars)

    @property
    def why_not(self) -> str:
        """The sentence that says why it cannot be judged; empty when it can."""
        return TEMPO_CHANGED if not self.steady else self.passage.written()[2]

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        ends = self.passage.written()[1]
        return float(ends[-1 if self.bars is None else self.bars - 1])

    @property
    def at(self) -> Fraction:
        """Where in the piece it begins."""
        return self.passage.at

    @property
    def info(self) -> "TakeInfo":
        """What its take says about itself."""
        info = self.passage.info
        if self.bars is not None:
            return replace(info, unfinished=True, last_bar=(info.first_bar or 1) + self.bars - 1)
        return replace(info, logged_pass=self.played.uuid if self.played else "")

    @property
    def said_first(self) -> str:
        """The sentence to say before the verdict; usually empty."""
        several = len(self.passage.spans) > 1
        told = [FORM_BARS] if several else []
        if self.bars is not None:
            first = self.passage.loop.first + 1 if several else self.passage.spans[0].first
            last = first + self.bars - 1
            heard = f"bar {first} is" if first == last else f"bars {first} to {last} are"
            told.insert(0, f"The pass was broken off: {heard} judged, and the take is kept as unfinished.")
        return " ".join(told)


def pass_to_judge(  # noqa: PLR0917  # the last three have defaults
    played: Pass,
    report: PassReport,
    piece: Piece,
    begins: float,
    latency: "CalibratedLatency | None" = None,
    others: "OtherSound | None" = None,
    click: str | None = None,
    file: str = "",
    number: int = 0,
) -> PassToJudge:
    """Make a pass to judge from a pass that was logged.

    Args:
        played: the pass.
        report: how it was timed.
        piece: the piece that its bars are bars of.
        begins: when it began to sound.
        latency: how late it comes in, where that was calibrated.
        others: what else sounded meanwhile.
        click: the name of the click pattern; empty for none.
        file: the exercise's file, where it was named by its path.
        number: of the pass, counted from 1.
    """
    loop = Loop(played.first_bar - 1, played.last_bar - 1)
    passage = Passage(piece, loop, played.line.part, report.share, click, file=file)
    if report.steady:  # what is built may begin with the bar before its loop
        lasts = sum((each for span in passage.spans for each in span.bar_seconds(passage.share)), Fraction(0))
        begins += max(0.0, played.seconds - float(lasts))
    return PassToJudge(
        passage, begins, played, report.steady, latency=latency, others=others, start=report.start, number=number
    )


@dataclass(frozen=True, slots=True)
class PassInProgress:
    """The pass that is being played."""

    passage: Passage
    start: Fraction | None
    """The frame at which it began, by the sink's clock: it says which pass this is."""
    begins: float
    """When it began to sound; where playing began in the middle, when its first bar would have."""
    steady: bool = True
    """Whether it has been played from its first bar at one tempo so far."""
    latency: "CalibratedLatency | None" = None
    """How late it comes in, where that was calibrated."""

    def after(self, before: "PassInProgress") -> "PassInProgress":
        """This pass as seen a little later than `before`: not steady any more if its tempo or piece changed between."""
        same = self.passage.share == before.passage.share and self.passage.piece is before.passage.piece
        return replace(self, steady=self.steady and before.steady and same)

    @property
    def written(self) -> "WrittenPart | None":
        """The strokes to be played; None where it cannot be judged."""
        return self.passage.written()[0] if self.steady else None

    @property
    def seconds(self) -> float:
        """How long it will last."""
        return float(self.passage.written()[1][-1])

    def broken_off(self, heard_s: float) -> PassToJudge | None:
        """The whole bars of it that were played, as a pass to judge; None for less than one bar.

        Args:
            heard_s: seconds of it that came in.
        """
        ends = self.passage.written()[1]
        bars = sum(float(end) <= heard_s for end in ends)
        if not bars:
            return None
        return PassToJudge(self.passage, self.begins, None, self.steady, bars, self.latency, start=self.start)


@dataclass(frozen=True, slots=True)
class JudgedPass:
    """A pass and the judgement on it."""

    of: PassToJudge
    judgement: "Judgement"
