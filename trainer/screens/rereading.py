"""What it means for the stand that the file of its exercise was changed: it plays on with it, or offers it."""

from dataclasses import dataclass
from enum import Enum

from trainer.music.exercise import Exercise
from trainer.screens.standing import Standing
from trainer.screens.stood import Stood
from trainer.sounds.rig import Rig


class Fit(Enum):
    """How the new version goes with what is on the stand."""

    SAME = "the same"
    PLAYS_ON = "other notes in the same bars"
    OFFERED = "something else"


@dataclass(frozen=True, slots=True)
class Reread:
    """What to do about a new version, and what to say of it."""

    fit: Fit
    said: str = ""
    stood: Stood | None = None
    """What is to stand there when it plays on."""


def reread(standing: Standing, exercise: Exercise, file: str, rig: Rig, tries: bool) -> Reread:
    """Compare what is on the stand with the new version of its exercise.

    Args:
        standing: the state of the stand.
        exercise: as the file has it now, its harmonies computed.
        file: the file's name.
        rig: says which parts are guitars.
        tries: whether something is tried on the stand that the file has not: that must not be lost unasked.
    """
    before = standing.stood
    if exercise == before.exercise:
        return Reread(Fit.SAME)
    why = "what you try is not in it"
    try:
        stood = Stood.of(exercise, before.riff, rig)
    except ValueError:
        why = f"{before.riff} is no longer in it" if before.riff else "there is nothing to play in it"
    else:
        if standing.mine not in stood.parts:
            why = f"{standing.mine} is no longer in it"
        elif [(bar.meter, bar.riff) for bar in stood.piece.bars] != [(b.meter, b.riff) for b in before.piece.bars]:
            why = f"{before.riff or 'the form'} has other bars now"
        elif not tries:
            same = stood.digest == before.digest
            what = "the words are new" if same else "it is played as it is written now"
            return Reread(Fit.PLAYS_ON, f"{file} was changed on disk: {what}.", stood)
    return Reread(Fit.OFFERED, f"{file} was changed on disk: {why}. N puts the new version on.")
