"""What the commands about the record share: the day, and how tempos and shares are written."""

from datetime import date, datetime

from trainer.practice.days import practice_day


def now() -> datetime:
    """The moment it is, in the player's time zone."""
    return datetime.now().astimezone()


def today() -> date:
    """The day of practice it is."""
    return practice_day(now())


def bpm(tempo: float) -> str:
    """A tempo, or a dash where there is none."""
    return f"{tempo:g}" if tempo else "-"


def share(part: float | None) -> str:
    """A share in per cent, or a dash."""
    return "-" if part is None else f"{part:.0%}"


def day_of(at_ms: int) -> str:
    """The local day of a moment in milliseconds, or a dash for none."""
    return datetime.fromtimestamp(at_ms / 1000).astimezone().date().isoformat() if at_ms else "-"
