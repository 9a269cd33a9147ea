"""What the commands about the record share: the log, the day, and how tempos and shares are written."""

from datetime import date, datetime

from trainer.commands.exercises import library
from trainer.commands.terminal import complain
from trainer.music.exercise import Exercise
from trainer.music.problem import ProblemsError
from trainer.notation.files import read_file
from trainer.places import data_folder
from trainer.practice.days import practice_day
from trainer.practice.log import Log


def now() -> datetime:
    """The moment it is, in the player's time zone."""
    return datetime.now().astimezone()


def today() -> date:
    """The day of practice it is."""
    return practice_day(now())


def open_log() -> Log:
    """The player's log; what is wrong with it is told."""
    return Log.open(data_folder() / "log.sqlite", now=now, tell=lambda problem: complain(f"twinspur: {problem}"))


def bpm(tempo: float) -> str:
    """A tempo, or a dash where there is none."""
    return f"{tempo:g}" if tempo else "-"


def share(part: float | None) -> str:
    """A share in per cent, or a dash."""
    return "-" if part is None else f"{part:.0%}"


def day_of(at_ms: int) -> str:
    """The local day of a moment in milliseconds, or a dash for none."""
    return datetime.fromtimestamp(at_ms / 1000).astimezone().date().isoformat() if at_ms else "-"


def readable(ids: tuple[str, ...]) -> tuple[Exercise, ...]:
    """The exercises of these ids; one that cannot be read is left out, and said."""
    shelf, found = library(), []
    for name in ids:
        try:
            found.append(read_file(shelf.find(name)))
        except ProblemsError as error:
            complain(str(error.problems[0]))
    return tuple(found)
