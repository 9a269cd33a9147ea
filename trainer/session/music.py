"""What stands on the stand: an exercise's riff or form, its parts with their letters, and its ladder."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from trainer.music.exercise import Exercise
from trainer.music.letters import letter_of
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.playback.mix import CLICK
from trainer.playback.piece import Loop, Piece
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_rules import LadderRules, rules_for
from trainer.practice.line import Line, digest_of
from trainer.sounds.patch import Role
from trainer.sounds.rig import Rig


@dataclass(frozen=True, slots=True)
class LoadedExercise:
    """An exercise opened at one riff, or at its whole form. Make one with `LoadedExercise.of`."""

    exercise: Exercise
    riff: str
    """The riff's name; empty for the whole form."""
    piece: Piece
    letters: Mapping[str, str]
    """For each part of the exercise its letter, the same in every riff."""
    guitars: tuple[str, ...]
    """The parts on strings that are no bass, the first one first."""
    digest: str
    rules: LadderRules
    players_ladder: Mapping[str, Any] = field(default_factory=dict)
    """The player's own settings for every ladder; the exercise's stand over them in `rules`."""
    file: str = ""
    """The exercise's file, where it was named by its path."""

    @classmethod
    def of(cls, exercise: Exercise, riff: str, rig: Rig, ladder: Mapping[str, Any] | None = None) -> "LoadedExercise":
        """Open an exercise.

        Args:
            exercise: its harmonies computed.
            riff: the riff's name; empty for the form.
            rig: says which parts are guitars.
            ladder: the player's own settings for every ladder (`Settings.ladder`).

        Raises:
            ValueError: there is no such riff, or nothing to play in it.
        """
        found = exercise.riff(riff) if riff else None
        if riff and found is None:
            raise ValueError(f"there is no riff {riff!r}")
        riffs = (found,) if found is not None else exercise.played
        piece = Piece.of(exercise, riffs)
        letters = {name: letter_of(number) for number, name in enumerate(exercise.part_names)}
        guitars = tuple(name for name in piece.part_names if _is_guitar(piece, name, rig))
        strings = tuple(name for name in piece.part_names if _on_strings(piece, name))
        tempo = riffs[0].tempo
        rules = rules_for(tempo.start, tempo.target, ladder or {}, _ladder_table(exercise))
        return cls(exercise, riff, piece, letters, guitars or strings[:1], digest_of(riffs), rules, ladder or {})

    @property
    def whole(self) -> Loop:
        """All of its bars."""
        return self.piece.whole

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that play, in the order of their letters."""
        return tuple(sorted(self.piece.part_names, key=lambda name: self.letters[name]))

    @property
    def heard(self) -> tuple[str, ...]:
        """What a mix may name: the parts, then the click."""
        return (*self.parts, CLICK)

    @property
    def target_bpm(self) -> Fraction:
        """The target of the first riff: what a tempo in bpm is a share of."""
        return self.piece.target_bpm(0)

    def line(self, part: str) -> Line:
        """What a pass of a part is logged under."""
        return Line(self.exercise.id, self.riff, part)

    def other(self, mine: str) -> str:
        """The guitar that trades places with mine; empty where there is no other."""
        others = [name for name in self.guitars if name != mine]
        return others[0] if others else ""

    def ladder(self, day: date, kept: Mapping[str, object]) -> Ladder | None:
        """The ladder where the record left it, on this day; None where the record is not understood."""
        try:
            return Ladder.from_dict(self.rules, kept).on(day)
        except (ValueError, TypeError, KeyError):
            return None


def _ladder_table(exercise: Exercise) -> dict[str, object]:
    settings = exercise.ladder
    table = {"step": settings.step, "passes": settings.passes, "miss": settings.miss, "beyond": settings.beyond}
    return {key: value for key, value in table.items() if value not in ("", None)}


def _on_strings(piece: Piece, name: str) -> bool:
    return any(isinstance(played.riff.part(name), TabPart) for played in piece.riffs)


def _is_guitar(piece: Piece, name: str, rig: Rig) -> bool:
    if not _on_strings(piece, name):
        return False
    settings = piece.settings(name)
    try:
        patch = rig.patch(settings.patch) if settings.patch else rig.for_part(name)
    except ProblemsError:
        return "bass" not in name.casefold()
    return patch.role is Role.GUITAR
