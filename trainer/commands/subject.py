"""What a take is judged against: a part in some bars of a riff or of the whole form, at a tempo."""

import argparse
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import choose_riff, exercise_option, load
from trainer.commands.line import CallError
from trainer.commands.own_machine import machine
from trainer.commands.playing import loop_of, number_of, part_of
from trainer.music.exercise import Exercise
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.playback.piece import Loop, Piece
from trainer.playback.share import parse_share, share_for_bpm
from trainer.sounds.patch import Role
from trainer.sounds.rig import Rig

if TYPE_CHECKING:
    from trainer.listening.written import WrittenPart

MOST_PASSES = 1_000
"""In one take."""


def subject_options(parser: argparse.ArgumentParser, *, exercise: bool = True) -> None:
    """Which part is judged."""
    if exercise:
        exercise_option(parser, riff=False)
    parser.add_argument("--riff", metavar="NAME", help="which riff; needed where the exercise has several")
    parser.add_argument(
        "--part", metavar="PART", action="append", help="which part; give it twice for two guitarists (default: the "
        "first guitar, and the second one for a second take)"
    )  # fmt: skip
    parser.add_argument("--bars", metavar="3-6", help="only these bars, counted from 1")
    parser.add_argument(
        "--tempo", metavar="96|60%", help="the tempo it was played at, in bpm or per cent of the target"
    )


def form_option(parser: argparse.ArgumentParser) -> None:
    """Whether the whole form is meant."""
    parser.add_argument(
        "--form", action="store_true", help="the take goes through the whole form, each riff at its own tempo"
    )


@dataclass(frozen=True, slots=True)
class Subject:
    """What takes are judged against."""

    exercise: Exercise
    piece: Piece
    """One riff, or the form."""
    loop: Loop
    guitars: tuple[str, ...]
    """The parts on strings that are no bass; every part on strings where there is no other."""
    parts: tuple[str, ...]
    """Those that were asked for; empty for the guitars in their order."""
    tempos: tuple[Fraction, ...]
    """Of the first riff, in bpm; where none was asked for, the target and then the start are tried."""
    passes: int = 1
    """Times through without a break that a take holds."""
    form: bool = False
    """Whether it goes through the form, in which bars are counted from its beginning."""

    @property
    def riff(self) -> Riff:
        """The riff; of a form the first one."""
        return self.piece.riffs[0].riff

    @property
    def bars(self) -> tuple[int, int]:
        """First and last bar, counted from 1."""
        return self.loop.first + 1, self.loop.last + 1

    @property
    def whole(self) -> bool:
        """Whether it is the whole riff or form."""
        return self.loop == self.piece.whole

    def part(self, number: int) -> str:
        """The part of the take with this number, from 0: the last one asked for goes on for those that follow."""
        return (self.parts or self.guitars)[min(number, len(self.parts or self.guitars) - 1)]

    def written(self, part: str, tempo: Fraction, passes: int | None = None) -> "WrittenPart":
        """The strokes of a take of a part, of as many passes as were asked for unless `passes` says otherwise.

        Raises CallError where nothing is played in these bars.
        """
        from trainer.listening.written_part import riff_bars, written_pass

        bars = self.piece.bars[self.loop.first : self.loop.last + 1]
        spans = riff_bars((bar.riff, self.piece.riffs[bar.riff].riff, bar.number + 1) for bar in bars)
        share, times = tempo / self.piece.target_bpm(0), passes or self.passes
        try:
            written = written_pass(spans, part, share, self.bars[0])
            return written if times == 1 else written.repeated(times)
        except ValueError as error:
            raise CallError(str(error).replace("'", '"')) from None

    def said(self, part: str, tempo: float) -> str:
        """How a sentence names it: `guitar 1 of Low road, bars 1 to 2, 168 bpm`."""
        first, last = self.bars
        bars = "" if self.whole else f", bar {first}" if first == last else f", bars {first} to {last}"
        passes = f", {self.passes} passes" if self.passes > 1 else ""
        name = f"the form of {self.exercise.title}" if self.form else self.riff.name
        return f"{part} of {name}{bars}, {tempo:g} bpm{passes}"


@dataclass(frozen=True, slots=True)
class SubjectRequest:
    """What is asked to be judged against: by the options of a call, by a kept take, or by both."""

    exercise: str = ""
    """Its id or file."""
    riff: str = ""
    """Empty where none is named."""
    form: bool = False
    """Whether the whole form is meant."""
    parts: tuple[str, ...] = ()
    bars: str | tuple[int, int] = ""
    """As a player writes them (`3-6`), or the first and the last one, counted from 1; empty for all."""
    tempo: str | Fraction = ""
    """As a player writes it (`96` or `60%`), or in bpm; empty for the target and the start tempo."""
    passes: int | None = None
    """Times through without a break; None for what is usual."""

    @classmethod
    def of(cls, arguments: argparse.Namespace) -> "SubjectRequest":
        """What the options of a call ask for. Raises CallError."""
        passes = getattr(arguments, "passes", None)
        return cls(
            exercise=getattr(arguments, "exercise", None) or "",
            riff=arguments.riff or "",
            form=getattr(arguments, "form", False),
            parts=tuple(arguments.part or ()),
            bars=arguments.bars or "",
            tempo=arguments.tempo or "",
            passes=None if passes is None else number_of("--passes", passes, 1, MOST_PASSES, 1),
        )


def subject(request: SubjectRequest) -> Subject:
    """Read the exercise and find what is meant in it.

    Raises:
        ProblemsError: for what is wrong in files, or a tempo that cannot be played.
        CallError: for what is wrong in the call.
    """
    written, path = load(request.exercise)
    found = realise_exercise(written, str(path))
    form = request.form
    riffs = _form(found, request.riff) if form else (_riff(found, request.riff),)
    piece, riff, rig = Piece.of(found, riffs), riffs[0], machine().rig
    strings = tuple(name for name in piece.part_names if any(isinstance(each.part(name), TabPart) for each in riffs))
    if not strings:
        raise CallError(f"{found.title if form else riff.name} has no part on strings: nothing of it can be judged.")
    guitars = tuple(name for name in strings if _is_guitar(found, name, rig)) or strings
    parts = tuple(part_of("--part", name, strings) for name in request.parts)
    tempos: tuple[Fraction, ...] = tuple(dict.fromkeys((riff.tempo.target, riff.tempo.start)))
    if isinstance(request.tempo, Fraction):
        tempos = (share_for_bpm(request.tempo, riff.tempo.target) * riff.tempo.target,)
    elif request.tempo:
        tempos = (parse_share(request.tempo, riff.tempo.target) * riff.tempo.target,)
    return Subject(found, piece, loop_of(request.bars, piece), guitars, parts, tempos, request.passes or 1, form)


def _form(exercise: Exercise, riff: str) -> tuple[Riff, ...]:
    if riff:
        raise CallError("--form goes through every riff: leave --riff away.")
    return exercise.played


def _riff(exercise: Exercise, name: str) -> Riff:
    if name:
        return choose_riff(exercise, name)
    if len(exercise.riffs) != 1:
        names = ", ".join(riff.name for riff in exercise.riffs)
        raise CallError(f"Say which riff with --riff: {exercise.title} has {names}.")
    return exercise.riffs[0]


def _is_guitar(exercise: Exercise, name: str, rig: Rig) -> bool:
    settings = exercise.settings(name)
    try:
        patch = rig.patch(settings.patch) if settings.patch else rig.for_part(name)
    except ProblemsError:
        return "bass" not in name.casefold()
    return patch.role is Role.GUITAR
