"""Days, minutes and passes in words: how long ago, when due, how many. Days fit a column of eleven cells."""

from datetime import date

MOST_DAYS = 60
"""Beyond so many days the date itself is written."""


def ago(day: date | None, today: date) -> str:
    """Say how long ago a day was; empty for None."""
    if day is None:
        return ""
    days = (today - day).days
    if days < 0 or days > MOST_DAYS:
        return day.isoformat()
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def due_words(day: date | None, today: date) -> str:
    """Say when something is due; empty for None."""
    if day is None:
        return ""
    days = (day - today).days
    if days < -MOST_DAYS:
        return "long due"
    if days > MOST_DAYS:
        return day.isoformat()
    if days < 0:
        return f"{-days} day{'' if days == -1 else 's'} late"
    return {0: "due today", 1: "tomorrow"}.get(days, f"in {days} days")


def minutes_words(seconds: float) -> str:
    """Say how long something took: in minutes, from two hours on in hours."""
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes / 60:.1f} h"


def passes_words(count: int) -> str:
    """Count passes in words."""
    return f"{count} pass{'' if count == 1 else 'es'}"


def days_words(count: int) -> str:
    """Count days in words."""
    return f"{count} day{'' if count == 1 else 's'}"
