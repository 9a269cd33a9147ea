"""Days as the player says them: how long ago, when due. Short enough for a column of eleven cells."""

from datetime import date

MOST_DAYS = 60
"""Further off than so many days, the date itself says more."""


def ago(day: date | None, today: date) -> str:
    """When something was last done; empty for never."""
    if day is None:
        return ""
    days = (today - day).days
    if days < 0 or days > MOST_DAYS:
        return day.isoformat()
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def due_words(day: date | None, today: date) -> str:
    """When something is due; empty for what was never judged."""
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
    """How long, in minutes, and from two hours on in hours."""
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes / 60:.1f} h"
