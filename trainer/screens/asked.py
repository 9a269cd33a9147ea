"""What the listener is asked: the pass that is being played, a pass that is over, and the answer."""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Any

from trainer.playback.piece import Loop, Piece
from trainer.playback.share import PassReport
from trainer.practice.passes import Pass

if TYPE_CHECKING:
    from trainer.listening.judging import Judgement
    from trainer.listening.spans import Span
    from trainer.listening.written import Written
    from trainer.screens.known_late import Known
    from trainer.screens.loop_heard import Beside

TEMPO_CHANGED = "This pass was not played from its first bar to its last at one tempo, so it is not judged."
FORM_BARS = "Bars are counted through the form, as the loop counts them."


@dataclass(frozen=True, slots=True)
class Music:
    """The music of a pass: bars of a piece, one part of it, at a share of its target tempos."""

    piece: Piece
    loop: Loop
    part: str
    share: Fraction
    click: str | None = None
    """The name of the pattern that clicks with it; empty for none, None where that is not known."""

    @property
    def spans(self) -> "tuple[Span, ...]":
        """Its bars, riff by riff."""
        from trainer.listening.spans import spans_of

        bars, riffs = self.piece.bars[self.loop.first : self.loop.last + 1], self.piece.riffs
        return spans_of((bar.riff, riffs[bar.riff].riff, bar.number + 1) for bar in bars)

    @property
    def at(self) -> Fraction:
        """Where in the piece it begins."""
        return self.piece.bars[self.loop.first].at

    @property
    def tempo_bpm(self) -> Fraction:
        """The tempo of its first riff."""
        return self.share * self.piece.target_bpm(self.loop.first)

    def seconds_to(self, bar: int, offset: Fraction) -> float:
        """Seconds from its start to a place in a bar, counted from 0 through the piece; below 0 before its start."""
        from trainer.listening.spans import seconds_to

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
    def about(self) -> Mapping[str, Any]:
        """What is kept beside its take."""
        spans = self.spans
        about: dict[str, Any] = {"exercise": self.piece.exercise.id, "part": self.part, "passes": 1}
        if self.click is not None:
            about["click"] = self.click or "none"
        if len(spans) == 1:
            (span,) = spans
            bars = {"riff": span.riff.name, "first_bar": span.first, "last_bar": span.last}
            return about | bars | {"tempo_bpm": float(self.tempo_bpm)}
        bars = {"riff": "", "form": True, "first_bar": self.loop.first + 1, "last_bar": self.loop.last + 1}
        return about | bars | {"tempo_bpm": float(self.share * self.piece.target_bpm(0))}

    def written(self) -> "tuple[Written | None, tuple[Fraction, ...], str]":
        """What it must hold, where its bars end in seconds, and why it cannot be judged; lately found, it is known."""
        for music, found in _FOUND:
            same = (music.loop, music.part, music.share) == (self.loop, self.part, self.share)
            if same and music.piece is self.piece:
                return found
        from trainer.listening.spans import bar_ends, written_spans

        spans = self.spans
        ends = bar_ends(spans, self.share)
        try:
            found = written_spans(spans, self.part, self.share, self.loop.first + 1), ends, ""
        except ValueError as error:
            found = None, ends, str(error)
        _FOUND.append((self, found))
        return found


_FOUND: "deque[tuple[Music, tuple[Written | None, tuple[Fraction, ...], str]]]" = deque(maxlen=4)


@dataclass(frozen=True, eq=False)  # no slots: what a pass must hold is found once
class Asked:
    """A pass that is to be judged."""

    music: Music
    begins: float
    """When it began to sound, on the stand's clock."""
    played: Pass | None = None
    """The pass as it was logged; None for one that was broken off."""
    steady: bool = True
    """Whether it was played from its first bar to its last at one tempo."""
    bars: int | None = None
    """How many bars of it were heard to their end, where it was broken off."""
    known: "Known | None" = None
    """How late it is heard, where calibration tells."""
    beside: "Beside | None" = None
    """What else sounded in it; None where that is not known."""
    start: Fraction | None = None
    """The frame where it began, on the sink's clock: which pass it is."""

    @cached_property
    def written(self) -> "Written | None":
        """What it must hold; None where it cannot be judged."""
        written, ends, _ = self.music.written()
        if not self.steady or written is None:
            return None
        if self.bars is None:
            return written
        from trainer.listening.spans import first_bars

        return first_bars(written, ends, self.bars)

    @property
    def why_not(self) -> str:
        """Why it cannot be judged, as a sentence; empty when it can."""
        return TEMPO_CHANGED if not self.steady else self.music.written()[2]

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        ends = self.music.written()[1]
        return float(ends[-1 if self.bars is None else self.bars - 1])

    @property
    def at(self) -> Fraction:
        """Where in the piece it begins."""
        return self.music.at

    @property
    def about(self) -> Mapping[str, Any]:
        """What is kept beside its take."""
        about = dict(self.music.about)
        if self.bars is not None:
            return about | {"unfinished": True, "last_bar": about["first_bar"] + self.bars - 1}
        return about | ({"pass": self.played.uuid} if self.played else {})

    @property
    def said_first(self) -> str:
        """What is to be said before the verdict, as a sentence; empty where nothing is."""
        several = len(self.music.spans) > 1
        told = [FORM_BARS] if several else []
        if self.bars is not None:
            first = self.music.loop.first + 1 if several else self.music.spans[0].first
            last = first + self.bars - 1
            heard = f"bar {first} is" if first == last else f"bars {first} to {last} are"
            told.insert(0, f"The pass was broken off: {heard} judged, and the take is kept as unfinished.")
        return " ".join(told)


def asked(  # noqa: PLR0917  # the last three have defaults
    played: Pass,
    report: PassReport,
    piece: Piece,
    begins: float,
    known: "Known | None" = None,
    beside: "Beside | None" = None,
    click: str | None = None,
) -> Asked:
    """What to judge a logged pass by.

    Args:
        played: the pass.
        report: how it was timed.
        piece: what its bars are counted in.
        begins: when it began to sound, on the stand's clock.
        known: how late it is heard, where calibration tells.
        beside: what else sounded in it.
        click: the name of the pattern that clicked; empty for none.
    """
    music = Music(piece, Loop(played.first_bar - 1, played.last_bar - 1), played.line.part, report.share, click)
    if report.steady:  # what is built may begin with the bar before its loop
        lasts = sum((each for span in music.spans for each in span.bar_seconds(music.share)), Fraction(0))
        begins += max(0.0, played.seconds - float(lasts))
    return Asked(music, begins, played, report.steady, known=known, beside=beside, start=report.start)


@dataclass(frozen=True, slots=True)
class Underway:
    """The pass that is being played."""

    music: Music
    start: Fraction | None
    """The frame where it began, on the sink's clock: which pass it is."""
    begins: float
    """When it began to sound, on the stand's clock; when it would have, where it was begun in the middle."""
    steady: bool = True
    """Whether it has been played from its first bar at one tempo so far."""
    known: "Known | None" = None
    """How late it is heard, where calibration tells."""

    def after(self, before: "Underway") -> "Underway":
        """The same pass a little later: at another tempo or with other bars it is not steady any more."""
        same = self.music.share == before.music.share and self.music.piece is before.music.piece
        return replace(self, steady=self.steady and before.steady and same)

    @property
    def written(self) -> "Written | None":
        """What it must hold; None where it cannot be judged."""
        return self.music.written()[0] if self.steady else None

    @property
    def seconds(self) -> float:
        """How long it will last."""
        return float(self.music.written()[1][-1])

    def broken_off(self, heard_s: float) -> Asked | None:
        """What to judge of it when it came no farther than some seconds; None for less than a bar.

        Args:
            heard_s: seconds of it that were heard.
        """
        ends = self.music.written()[1]
        bars = sum(float(end) <= heard_s for end in ends)
        if not bars:
            return None
        return Asked(self.music, self.begins, None, self.steady, bars, self.known, start=self.start)


@dataclass(frozen=True, slots=True)
class Heard:
    """A pass and what was heard of it."""

    asked: Asked
    judgement: "Judgement"
