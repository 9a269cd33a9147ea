"""What MusicXML has no words for, kept beside the music so that nothing of an exercise is lost on its way."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RiffDetails:
    """What a score has no words for and an exercise of ours keeps beside it; numbers are texts such as "7/8"."""

    name: str
    key: str
    start: str
    target: str
    marks: tuple[tuple[str, str, bool], ...] = ()
    """Tempo marks: where, in whole notes from the riff's start, how fast, and whether gradually."""
    bars: int = 0


@dataclass(frozen=True, slots=True)
class ExerciseDetails:
    """The same for the whole exercise."""

    id: str = ""
    key: str = ""
    start: str = ""
    target: str = ""
    meter: str = ""
    tuning: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    form: tuple[tuple[str, int], ...] = ()
    riffs: tuple[RiffDetails, ...] = ()
